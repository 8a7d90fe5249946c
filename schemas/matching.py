"""Which classes of tool can do which operation (ISO 14649-11 with -111; common practice where it is silent)."""

from __future__ import annotations

from schemas.plan import DRILLING, ON_AXIS, SetupPlan, Workingstep
from schemas.problem import Problem
from schemas.tolerances import LENGTH
from schemas.tool import MILLS, Tool

_END = frozenset({"endmill", "bullnose_endmill", "ballnose_endmill"})
_FACE = frozenset({"facemill", "shouldermill"})
_UNDER = frozenset({"side_mill", "t_slot_mill", "dovetail_mill"})
_POINTED = frozenset({"spotdrill", "countersink", "chamfer_mill"})

TOOLS_FOR: dict[str, frozenset[str]] = {
    "plane_rough_milling": _END | _FACE | _UNDER,
    "plane_finish_milling": _END | _FACE | _UNDER,
    "side_rough_milling": _END | _FACE | _UNDER,
    "side_finish_milling": _END | _FACE | _UNDER,
    "bottom_and_side_rough_milling": _END | _FACE | _UNDER | _POINTED,
    "bottom_and_side_finish_milling": _END | _FACE | _UNDER | _POINTED,
    "freeform_operation": _END | _POINTED,
    "drilling": frozenset({"twist_drill", "endmill", "bullnose_endmill"}),
    "multistep_drilling": frozenset({"twist_drill"}),
    "center_drilling": frozenset({"spotdrill", "twist_drill", "countersink", "chamfer_mill"}),
    "counter_sinking": _POINTED | {"counterbore", "endmill"},
    "boring": frozenset({"rotating_boring_cutting_tool"}),
    "reaming": frozenset({"reaming_cutting_tool"}),
    "tapping": frozenset({"tapping_cutting_tool"}),
    "back_boring": frozenset({"rotating_boring_cutting_tool", "counterbore", "countersink"}),
    "chamfering": _POINTED,
    "edge_breaking": _POINTED | _END,
}

_MOUTH = _POINTED | {"tapping_cutting_tool"}
_MOUTHS = frozenset({"center_drilling", "back_boring"})
"""Tools and operations on a hole's axis that leave no wall on which an allowance could stand."""

UPRIGHT = 85.0
"""Least KAPR in degrees of a cutter that may make a wall: square-shoulder cutters have 90 (common practice)."""
WALLS = frozenset(
    {
        "side_rough_milling",
        "side_finish_milling",
        "bottom_and_side_rough_milling",
        "bottom_and_side_finish_milling",
    }
)
"""Operations that leave a wall at the cutter's side."""


def check_tools_match(plan: SetupPlan) -> None:
    """Raises Problem ``plan.invalid`` where a step's tool cannot do its operation, or not as the step states it."""
    for i, setup in enumerate(plan.setups):
        for j, step in enumerate(setup.workingsteps):
            tool, place = plan.tool(step.tool), f"/setups/{i}/workingsteps/{j}"
            if tool.type not in TOOLS_FOR[step.operation]:
                raise _invalid(
                    f"{step.operation} cannot be done with tool '{step.tool}', a {tool.type}.",
                    f"{place}/tool",
                    f"Use one of: {', '.join(sorted(TOOLS_FOR[step.operation]))}.",
                )
            _check_keys(step, tool, place)


def on_axis(step: Workingstep, tool: Tool) -> bool:
    """Whether the tool goes down a hole's axis, rather than round it as a mill does."""
    return step.operation in ON_AXIS and not (tool.type in MILLS and step.operation not in DRILLING)


def _check_keys(step: Workingstep, tool: Tool, place: str) -> None:
    """Keys that would mean nothing with this tool: a cutter's depth is its tip's."""
    plunges = on_axis(step, tool)
    if step.operation in WALLS and tool.type in _FACE | _END and tool.KAPR is not None and tool.KAPR < UPRIGHT:
        raise _invalid(
            f"Tool '{tool.id}' cuts at {tool.KAPR:g} degrees: it makes no upright wall.",
            f"{place}/tool",
            "Use a cutter with a KAPR of 90.",
        )
    _check_passes(step, tool, place)
    if step.allowance_side and plunges and (tool.type in _MOUTH or step.operation in _MOUTHS):
        raise _invalid(
            f"{step.operation} with a {tool.type} makes no wall of its own: 'allowance_side' says nothing to it.",
            f"{place}/allowance_side",
            "Leave it out.",
        )
    if step.operation == "back_boring" and step.allowance_bottom:
        raise _invalid(
            "back_boring ends at the ledge that looks down: 'allowance_bottom' says nothing to it.",
            f"{place}/allowance_bottom",
            "Leave it out, or give 'bottom_z', the height of the ledge that the step leaves.",
        )
    if step.cutting_depth is not None and not plunges:
        raise _invalid(
            f"{step.operation} with a {tool.type} goes round the hole: 'cutting_depth' says nothing to it.",
            f"{place}/cutting_depth",
            "Give 'bottom_z', the height of the tip.",
        )


def _check_passes(step: Workingstep, tool: Tool, place: str) -> None:
    """A cut wider than the cutter; how deep its edge cuts is reach's matter."""
    said = step.technology
    if tool.type in MILLS and (said.radial_cutting_depth or 0.0) > tool.diameter + LENGTH:
        raise _invalid(
            f"'radial_cutting_depth' is more than the whole width of tool '{tool.id}'.",
            f"{place}/technology/radial_cutting_depth",
            "Give its diameter at most.",
        )


def _invalid(detail: str, pointer: str, remedy: str) -> Problem:
    return Problem("plan.invalid", "The plan is not valid", detail, pointer=pointer, remedy=remedy)
