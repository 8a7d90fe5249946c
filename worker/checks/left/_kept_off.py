"""Metal that is left because the workholding kept a cutter off it: the same step, swept as if nothing stood there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Box
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, VOLUME_NOTHING
from schemas.workholding import Vise
from worker.checks._within import any_within, has_many_faces, inner_points
from worker.checks.api import Context
from worker.checks.hold._contacts import vise_of
from worker.checks.milling import travels
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, compound, is_empty
from worker.residual import Lump
from worker.stage.model import Cut, HoldingBody, ResolvedStep, Stage
from worker.stage.removal import Scene, sweep_step


@dataclass(frozen=True)
class KeptOff:
    """A step, the body that keeps its cutter off some metal, and how far that stands above the cutter's tip (mm)."""

    stage: Stage
    cut: Cut
    body: HoldingBody
    above: float


def kept_off(context: Context, lumps: Sequence[Lump]) -> KeptOff | None:
    """The last step that would take metal of the lumps if the workholding were not there; None when none would."""
    for stage, cut in reversed(context.sequence):
        stated = cut.step.bottom_z is not None or cut.step.cutting_depth is not None
        if stated or not travels(cut) or not _stands_above(stage, cut):
            continue
        taken = _would_take(context, stage, cut, lumps)
        if taken is not None:
            body = min(_stands_above(stage, cut), key=lambda b: measure.distance(b.body, taken).distance)
            return KeptOff(stage, cut, body, measure.bounding_box(body.body, stage.frame).max[2] - cut.lowest_tip)
    return None


def _stands_above(stage: Stage, cut: Cut) -> list[HoldingBody]:
    return [
        b for b in stage.holding.bodies if measure.bounding_box(b.body, stage.frame).max[2] > cut.lowest_tip + LENGTH
    ]


def _would_take(context: Context, stage: Stage, cut: Cut, lumps: Sequence[Lump]) -> Body | None:
    """What of the lumps; of those of very many faces the whole lump."""
    job = ResolvedStep(cut.index, cut.step, cut.tool, cut.features)
    try:
        bodies = [b for b in sweep_step(_unheld(context, stage), job).bodies if not is_empty(b)]
        found = _taken(lumps, bodies) if bodies else None
    except KernelError:  # only an explanation is lost
        return None
    return found if found is not None and measure.volume(found) > VOLUME_NOTHING else None


def _taken(lumps: Sequence[Lump], bodies: list[Body]) -> Body | None:
    many = next((x for x in lumps if has_many_faces(x) and any_within(inner_points(x.body), bodies)), None)
    plain = [lump.body for lump in lumps if not has_many_faces(lump)]
    if many is not None or not plain:
        return many.body if many else None
    return boolean.common(compound(plain), bodies, merge=False)


def _unheld(context: Context, stage: Stage) -> Scene:
    one, other = (measure.bounding_box(body, stage.frame) for body in (stage.as_is, context.part.body))
    low = tuple(min(a, b) for a, b in zip(one.min, other.min, strict=True))
    high = tuple(max(a, b) for a, b in zip(one.max, other.max, strict=True))
    metal = Box(min=(low[0], low[1], low[2]), max=(high[0], high[1], high[2]))
    return Scene(context.part, stage.frame, Skyline(context.part.body, stage.frame), None, metal)


def way_clear(context: Context, found: KeptOff) -> Remedy:
    """Jaws lowered to the cutter's tip, where enough grip stays; else the body moved, or another setup."""
    vise = vise_of(found.stage)
    if vise is not None and found.body.role.startswith("jaw"):
        return _lower_jaws(context, found, vise)
    text = f"Move {found.body.name} out of the way of {found.cut.tool.id}, or cut what it covers in another setup."
    return Remedy(text=text, pointer=context.of_setup(found.stage, "workholding"))


def _lower_jaws(context: Context, found: KeptOff, vise: Vise) -> Remedy:
    soft = vise.jaws == "soft"
    key, stated = ("nest_depth", vise.nest_depth or 0.0) if soft else ("jaw_height", vise.jaw_height)
    value = stated - found.above
    pointer = context.of_setup(found.stage, "workholding", key)
    if value - (0.0 if soft else vise.parallel_height) >= context.limit("least_grip_depth"):
        return Remedy(text=f"Set {key} to {context.text(value)}.", pointer=pointer, value=value, unit="mm")
    text = f"Jaws {context.text(found.above)} lower would leave too little grip: cut it in another setup."
    return Remedy(text=text, pointer=context.of_setup(found.stage, "workholding"))
