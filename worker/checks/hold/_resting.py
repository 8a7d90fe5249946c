"""What a stock stands on, in plan: flats on its supports, lines and points in given bodies, the nest of soft jaws."""

from __future__ import annotations

from schemas.tolerances import TOUCH
from worker.checks.api import Context
from worker.checks.hold._contacts import jaw_patches, support_patches, vise_of
from worker.checks.hold._loads import flat
from worker.checks.hold._support import Point2, hull
from worker.kernel import boolean, measure, primitives
from worker.kernel.resting import corners_of, rests_on
from worker.kernel.shape import Body
from worker.stage.model import Jaws, Stage

LIFT = 2 * TOUCH
"""By how much a given body is lifted (mm) to see where the stock rests on it."""


def support_outline(context: Context, stage: Stage) -> tuple[Point2, ...]:
    """Convex outline of what carries the stock from below; empty where nothing does."""
    found = [flat(stage, p) for patch in support_patches(context, stage) for p in patch.points]
    if stage.holding.kind == "bodies":
        found += [flat(stage, p) for p in _resting(context, stage)]
    return hull(found)


def held_outline(context: Context, stage: Stage, below: tuple[Point2, ...]) -> tuple[Point2, ...]:
    """The same with what the jaws of a vise hold: their flats, or all that stands in the nest of soft ones."""
    if _is_soft(stage):
        return hull([*below, *(flat(stage, p) for p in _in_the_nest(context, stage))])
    clamped = [p for role in ("jaw_fixed", "jaw_moving") for p in jaw_patches(context, stage, role)]
    return hull([*below, *(flat(stage, p) for patch in clamped for p in patch.points)])


def _is_soft(stage: Stage) -> bool:
    vise = vise_of(stage)
    return vise is not None and vise.jaws == "soft"


def _resting(context: Context, stage: Stage) -> list[tuple[float, float, float]]:
    def compute() -> list[tuple[float, float, float]]:
        return [p for held in stage.holding.of("body") for p in rests_on(stage.as_is, held.body, stage.frame.z, LIFT)]

    return context.once(f"hold.resting.{stage.setup.id}", compute)


def _in_the_nest(context: Context, stage: Stage) -> tuple[tuple[float, float, float], ...]:
    """The corners of the stock between the jaws, as wide and as high as they are."""
    jaws = stage.holding.jaws
    assert jaws is not None

    def compute() -> tuple[tuple[float, float, float], ...]:
        return corners_of(boolean.common(stage.as_is, [_between(stage, jaws)], merge=False))

    return context.once(f"hold.nest.{stage.setup.id}", compute)


def _between(stage: Stage, jaws: Jaws) -> Body:
    box = measure.bounding_box(stage.as_is, stage.frame)
    low, high = [*box.min], [*box.max]
    across = 1 if jaws.axis == "X" else 0
    low[across], high[across] = jaws.centre - jaws.width / 2, jaws.centre + jaws.width / 2
    low[1 - across], high[1 - across] = low[1 - across] - 1.0, high[1 - across] + 1.0
    bottom, top = jaws.support_z - 1.0, jaws.top_z
    return primitives.box((low[0], low[1], bottom), (high[0], high[1], top), stage.frame)
