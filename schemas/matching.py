"""Which classes of tool can do which operation (ISO 14649-11 with -111; common practice where it is silent)."""

from __future__ import annotations

from schemas.plan import SetupPlan
from schemas.problem import Problem

_END = frozenset({"endmill", "bullnose_endmill", "ballnose_endmill"})
_FACE = frozenset({"facemill", "shouldermill"})
_UNDER = frozenset({"side_mill", "t_slot_mill", "dovetail_mill"})
_POINTED = frozenset({"spotdrill", "countersink", "chamfer_mill"})

TOOLS_FOR: dict[str, frozenset[str]] = {
    "plane_rough_milling": _END | _FACE | _UNDER,
    "plane_finish_milling": _END | _FACE | _UNDER,
    "side_rough_milling": _END | _FACE | _UNDER,
    "side_finish_milling": _END | _FACE | _UNDER,
    "bottom_and_side_rough_milling": _END | _FACE | _UNDER,
    "bottom_and_side_finish_milling": _END | _FACE | _UNDER,
    "freeform_operation": _END,
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


def check_tools_match(plan: SetupPlan) -> None:
    """Raises Problem ``plan.invalid`` where a step's tool cannot do its operation."""
    for i, setup in enumerate(plan.setups):
        for j, step in enumerate(setup.workingsteps):
            kind = plan.tool(step.tool).type
            if kind not in TOOLS_FOR[step.operation]:
                raise Problem(
                    "plan.invalid",
                    "The plan is not valid",
                    f"{step.operation} cannot be done with tool '{step.tool}', a {kind}.",
                    pointer=f"/setups/{i}/workingsteps/{j}/tool",
                    remedy=f"Use one of: {', '.join(sorted(TOOLS_FOR[step.operation]))}.",
                )
