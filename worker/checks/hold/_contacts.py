"""How the workholding meets a stock, measured once a setup and shared by the rules on holding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from schemas.base import Box, Vec3, dot
from schemas.tolerances import LENGTH, TOUCH
from schemas.workholding import Vise
from worker.checks.api import Context
from worker.kernel import measure, primitives
from worker.kernel.contact import Patch, opposed, patches
from worker.stage.holding import extremes_below
from worker.stage.model import SUPPORTING, HoldingBody, Jaws, Stage

Span = tuple[float, float]
"""Lowest and highest, mm."""
Met = tuple[float, Span]
"""Area (mm2) in which two flats lie straight across from each other, and the heights it takes up."""
SQUARE = 1e-6
"""1 - cosine up to which a patch counts as square to an axis (about 0.08 degrees)."""


def vise_of(stage: Stage) -> Vise | None:
    """The setup's vise; None where it holds by other means."""
    holding = stage.setup.workholding
    return holding if isinstance(holding, Vise) else None


def jaw_direction(stage: Stage, jaws: Jaws) -> Vec3:
    """Unit vector of the jaws' axis in the part's frame."""
    return stage.frame.x if jaws.axis == "X" else stage.frame.y


def opening_word(body: HoldingBody) -> str:
    """A body's name as a sentence begins with it; the plan's own names stay as they are but for the first letter."""
    return body.name[:1].upper() + body.name[1:]


def patches_of(context: Context, stage: Stage, body: HoldingBody) -> tuple[Patch, ...]:
    """The flat areas in which the as-is stock and one body of the workholding meet."""
    number = next(i for i, other in enumerate(stage.holding.bodies) if other is body)
    return context.once(f"hold.{stage.setup.id}.{number}", lambda: patches(stage.as_is, body.body, TOUCH))


def jaw_patches(context: Context, stage: Stage, role: str) -> tuple[Patch, ...]:
    """The flat areas of the as-is stock, square to the jaws' axis, that a jaw ("jaw_fixed", "jaw_moving") meets."""
    if stage.holding.jaws is None:
        return ()
    return square_to_jaws(stage, (p for body in stage.holding.of(role) for p in patches_of(context, stage, body)))


def square_to_jaws(stage: Stage, found: Iterable[Patch]) -> tuple[Patch, ...]:
    """Those of some patches that are square to the axis of the setup's jaws; none without jaws."""
    jaws = stage.holding.jaws
    axis = jaw_direction(stage, jaws) if jaws is not None else None
    return tuple(p for p in found if axis is not None and abs(dot(p.normal, axis)) >= 1 - SQUARE)


def met_across(context: Context, stage: Stage) -> tuple[Met, ...]:
    """Where both jaws meet flats of the as-is stock straight across from each other; nowhere without a vise."""
    fixed, moving = (jaw_patches(context, stage, role) for role in ("jaw_fixed", "jaw_moving"))
    return context.once(f"hold.across.{stage.setup.id}", lambda: across(stage, fixed, moving))


def across(stage: Stage, one: Sequence[Patch], other: Sequence[Patch]) -> tuple[Met, ...]:
    """Where flats of the one side lie straight across the jaws' axis from flats of the other."""
    jaws = stage.holding.jaws
    pairs = opposed(one, other, jaw_direction(stage, jaws)) if jaws is not None else ()
    boxes = [(measure.area(face), measure.box_of(face, stage.frame)) for face, _ in pairs]
    return tuple((area, (box.min[2], box.max[2])) for area, box in boxes)


def support_patches(context: Context, stage: Stage) -> tuple[Patch, ...]:
    """The flat areas, facing down, on which the as-is stock stands."""
    found = [p for b in stage.holding.of(*sorted(SUPPORTING)) for p in patches_of(context, stage, b)]
    return tuple(p for p in found if dot(p.normal, stage.frame.z) <= -1 + SQUARE)


def heights(stage: Stage, found: Iterable[Patch]) -> tuple[float, float]:
    """Lowest and highest point of some patches in the setup's frame, mm."""
    zs = [stage.frame.to_local(p)[2] for patch in found for p in patch.points]
    return min(zs), max(zs)


def strips(stage: Stage, found: Iterable[Patch]) -> list[Span]:
    """The heights that some patches take up, from the lowest: those that touch or overlap are one span."""
    return joined(heights(stage, [patch]) for patch in found)


def joined(spans: Iterable[Span]) -> list[Span]:
    """Spans from the lowest, such as touch or overlap made one."""
    found: list[Span] = []
    for low, high in sorted(spans):
        if found and low <= found[-1][1] + LENGTH:
            found[-1] = (found[-1][0], max(high, found[-1][1]))
        else:
            found.append((low, high))
    return found


def beside_jaw(stage: Stage, jaws: Jaws, low: bool) -> tuple[Patch, ...]:
    """What the jaw at the low or the high side would meet of the as-is stock if it reached up to the stock's top."""
    along = (jaws.low - 1.0, jaws.low) if low else (jaws.high, jaws.high + 1.0)
    across = (jaws.centre - jaws.width / 2, jaws.centre + jaws.width / 2)
    (x0, x1), (y0, y1) = (along, across) if jaws.axis == "X" else (across, along)
    top = measure.bounding_box(stage.as_is, stage.frame).max[2]
    slab = primitives.box((x0, y0, jaws.bed_z), (x1, y1, top), stage.frame)
    axis = jaw_direction(stage, jaws)
    return tuple(p for p in patches(stage.as_is, slab, TOUCH) if abs(dot(p.normal, axis)) >= 1 - SQUARE)


def clamping(stage: Stage) -> tuple[HoldingBody, ...]:
    """What presses on the stock from without: jaws and clamps."""
    return stage.holding.of("jaw_fixed", "jaw_moving", "clamp")


def total(found: Iterable[Patch]) -> float:
    """Area of some patches, mm2."""
    return sum(p.area for p in found)


def could_clamp(stage: Stage, vise: Vise, axis: Literal["X", "Y"]) -> bool:
    """Whether the jaws, closed along that axis, would open as far and meet a flat face at the stock's least and at its
    greatest extent below the height of their top."""
    box, number = measure.bounding_box(stage.as_is, stage.frame), 0 if axis == "X" else 1
    top = stage.holding.jaws.top_z if stage.holding.jaws else box.max[2]
    least, greatest = extremes_below(stage.as_is, stage.frame, box, number, top, bool(stage.standing(0).facets))
    if vise.max_opening is not None and greatest - least > vise.max_opening + LENGTH:
        return False
    return all(_has_flats(stage, box, number, at, top) for at in ((least - 1.0, least), (greatest, greatest + 1.0)))


def _has_flats(stage: Stage, box: Box, number: int, between: Span, top: float) -> bool:
    """Whether a slab between two coordinates touches flat faces of the stock, up to a height."""
    low, high = [*box.min], [*box.max[:2], top]
    low[number], high[number] = between
    slab = primitives.box((low[0], low[1], low[2]), (high[0], high[1], high[2]), stage.frame)
    return bool(patches(stage.as_is, slab, TOUCH))


def pointer_of(context: Context, stage: Stage, body: HoldingBody) -> str:
    """JSON pointer of a fixture's element or a given body."""
    number = next(i for i, other in enumerate(stage.holding.bodies) if other is body)
    key = "elements" if stage.holding.kind == "fixture_plate" else "bodies"
    return context.of_setup(stage, "workholding", key, number)
