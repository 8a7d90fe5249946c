"""Metal as a step finds it, asked at a point or in a column: without cutting the whole stock again."""

from __future__ import annotations

import math
from collections.abc import Sequence

from schemas.base import Box, Vec3
from schemas.tolerances import COINCIDENT
from worker.checks.api import Context
from worker.kernel import boolean, measure
from worker.kernel.coaxial import holds_round
from worker.kernel.shape import EMPTY, Body, is_empty, solids
from worker.stage.model import Cut, Stage


def place_of(stage: Stage, cut: Cut) -> int:
    """The position of the step among the stage's cuts."""
    return next(i for i, other in enumerate(stage.cuts) if other is cut)


def stands_at(context: Context, stage: Stage, before: int, point: Vec3) -> bool:
    """Whether the point lies inside the metal as ``cuts[before]`` finds it."""
    if measure.contains(stage.as_is, point) != "in":
        return False
    return not any(
        _holds(context, stage, i, point) and measure.contains(stage.cuts[i].removal, point) != "out"
        for i in range(before)
    )


def taker_after(context: Context, cut: Cut, point: Vec3) -> tuple[Stage, Cut] | None:
    """The step after this one, in this setup or a later one, that takes the metal at a point; None: no step does."""
    takers = ((stage, other) for stage, other in context.later(cut) if not is_empty(other.removal))
    return next(((s, o) for s, o in takers if measure.contains(o.removal, point) != "out"), None)


def is_swept_before(context: Context, stage: Stage, before: int, column: Body) -> bool:
    """Whether one step before ``cuts[before]`` sweeps all of a column, told without a look at the stock."""
    box = measure.bounding_box(column)
    met = [i for i in range(before) if _meet(_box(context, stage, i), box)]
    return _is_swept([stage.cuts[i].swept for i in met], column, box)


def takes_near(context: Context, stage: Stage, i: int, column: Body) -> bool:
    """Whether ``cuts[i]`` takes metal whose box meets a column's."""
    return _meet(_box(context, stage, i), measure.bounding_box(column))


def column_before(context: Context, stage: Stage, before: int, column: Body) -> Body:
    """The metal inside ``column``, an upright or lying cylinder, as ``cuts[before]`` finds it."""
    box = measure.bounding_box(column)
    met = [i for i in range(before) if _meet(_box(context, stage, i), box)]
    if _is_swept([stage.cuts[i].swept for i in met], column, box):
        return EMPTY
    taken = [stage.cuts[i].removal for i in met]
    found = boolean.common(stage.as_is, [column], merge=False)
    return boolean.cut(found, taken, merge=False) if taken and not is_empty(found) else found


def _is_swept(sweeps: Sequence[Body], column: Body, box: Box) -> bool:
    """True where one tool's path holds the whole column, as a drill's holds that of its hole: told by their faces where
    they have one axis, else a cut by one small solid, of the path whose box shares most with the column's."""
    paths = [path for sweep in sweeps for path in solids(sweep)]
    if any(holds_round(path, column) for path in paths):
        return True

    def shared(path: Body) -> float:
        own = measure.bounding_box(path)
        sides = [min(own.max[k], box.max[k]) - max(own.min[k], box.min[k]) for k in range(3)]
        return math.prod(sides) if min(sides) > 0 else 0.0

    widest = max(paths, key=shared, default=EMPTY)
    return not is_empty(widest) and is_empty(boolean.cut(column, [widest], merge=False))


def _box(context: Context, stage: Stage, i: int) -> Box | None:
    """Bounding box of a removal; None where the step takes nothing."""
    body = stage.cuts[i].removal
    key = f"metal.box.{stage.setup.id}.{i}"
    return context.once(key, lambda: None if is_empty(body) else measure.bounding_box(body))


def _holds(context: Context, stage: Stage, i: int, point: Vec3) -> bool:
    return _meet(_box(context, stage, i), Box(min=point, max=point))


def _meet(box: Box | None, other: Box) -> bool:
    if box is None:
        return False
    pairs = zip(box.min, box.max, other.min, other.max, strict=True)
    return all(low <= c + COINCIDENT and a <= high + COINCIDENT for low, high, a, c in pairs)
