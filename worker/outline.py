"""What the report repeats of the plan so that its readers need no plan beside it: tools, and how the stock stands."""

from __future__ import annotations

from collections.abc import Sequence

from schemas.plan import SetupPlan
from schemas.report import HoldingOut, SetupOut, ToolOut, WorkingstepOut
from schemas.tool import Tool
from schemas.units import Units, units
from schemas.workholding import Vise
from worker.kernel import measure
from worker.kernel.shape import is_empty
from worker.stage.model import Stage


def tools_out(plan: SetupPlan, setups: Sequence[SetupOut]) -> tuple[ToolOut, ...]:
    """Every tool of the plan, with its steps and the largest of their least stick-outs (mm)."""
    return tuple(_tool(tool, setups) for tool in plan.tools)


def holding_out(stage: Stage) -> HoldingOut:
    """How the workholding stands to the as-is stock, in the setup's frame (mm)."""
    as_is = measure.bounding_box(stage.as_is, stage.frame)
    done = None if is_empty(stage.to_be) else measure.bounding_box(stage.to_be, stage.frame).max[2]
    base = HoldingOut(
        kind=stage.holding.kind,
        support_z=stage.holding.support_z,
        stock_top_z=as_is.max[2],
        finished_top_z=done,
        stock_min=as_is.min,
        stock_max=as_is.max,
        elements=_elements(stage),
    )
    return base.model_copy(update=_vise_values(stage))


def workholding_words(stage: Stage, plan: SetupPlan) -> str:
    """What holds the part in one phrase, lengths in the plan's units."""
    unit, holding, jaws = units(plan.units), stage.setup.workholding, stage.holding.jaws
    if isinstance(holding, Vise) and jaws is not None:
        return _vise_words(holding, jaws.grip, jaws.opening, unit)
    counted = [_counted(sum(b.role == role for b in stage.holding.bodies), role) for role in _elements(stage)]
    if stage.holding.kind == "fixture_plate":
        return f"fixture plate: {', '.join(counted)}"
    return f"given bodies: {', '.join(body.name for body in stage.holding.bodies)}"


def _counted(number: int, role: str) -> str:
    return f"{number} {role}" + ("" if number == 1 else "s")


def _vise_words(vise: Vise, grip: float, opening: float, unit: Units) -> str:
    stands = f"on parallels of {unit.text(vise.parallel_height)}" if vise.parallel_height else "on the vise bed"
    stands = "on the floor of their nest" if vise.jaws == "soft" else stands
    jaws = "soft jaws" if vise.jaws == "soft" else "jaws"
    force = f", {vise.clamping_force / 1000:g} kN" if vise.clamping_force else ""
    return (
        f"vise, {jaws} along {vise.jaw_axis} opened {unit.text(opening)}, grip {unit.text(grip)}, stock {stands}{force}"
    )


def _vise_values(stage: Stage) -> dict[str, object]:
    holding, jaws = stage.setup.workholding, stage.holding.jaws
    if not isinstance(holding, Vise) or jaws is None:
        return {}
    return {
        "jaw_axis": jaws.axis,
        "jaws": holding.jaws,
        "grip": jaws.grip,
        "opening": jaws.opening,
        "jaw_low": jaws.low,
        "jaw_high": jaws.high,
        "jaw_width": jaws.width,
        "jaw_height": holding.jaw_height,
        "jaw_top_z": jaws.top_z,
        "bed_z": jaws.bed_z,
        "parallel_height": holding.parallel_height,
        "clamping_force": holding.clamping_force,
    }


def _elements(stage: Stage) -> tuple[str, ...]:
    """The roles that occur, in the plan's order."""
    return tuple(dict.fromkeys(body.role for body in stage.holding.bodies))


def _tool(tool: Tool, setups: Sequence[SetupOut]) -> ToolOut:
    used = [(s.id, step) for s in setups for step in s.workingsteps if step.tool == tool.id and step.enabled]
    least = _largest_least([step for _, step in used])
    return ToolOut(
        id=tool.id,
        type=tool.type,
        name=tool.name,
        diameter=tool.diameter,
        thread=tool.thread,
        corner_radius=tool.corner_radius or None,
        point_angle=tool.SIG,
        stickout=tool.stickout,
        least_stickout=least,
        stickout_margin=None if least is None else tool.stickout - least,
        holder=bool(tool.holder),
        steps=tuple(f"{id}/{step.id}" for id, step in used),
    )


def _largest_least(steps: Sequence[WorkingstepOut]) -> float | None:
    known = [step.least_stickout for step in steps if step.least_stickout is not None]
    return max(known) if known else None
