"""Where steps leave floors and walls that the part does not have: allowances, overcuts, stated depths (mm).

Cell borders belong there as well; between two borders a plane is seen half a cell off.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from schemas.tolerances import LENGTH
from worker.field.lines import Floats
from worker.field.view import View
from worker.stage.model import Cut

Extents = dict[int, tuple[Floats, Floats]]
"""Face number to the lowest and highest coordinates of its box, part's frame."""


def extents_of(triangles: Floats, owner: np.ndarray[tuple[int, ...], np.dtype[np.int32]]) -> Extents:
    """The box of each face."""
    found: Extents = {}
    for face in np.unique(owner).tolist():
        points = triangles[owner == face].reshape(-1, 3)
        found[face] = (points.min(axis=0), points.max(axis=0))
    return found


def stated_planes(cuts: Iterable[Cut], view: View, extents: Extents) -> Iterator[tuple[int, float]]:
    """Axis of the part's frame and coordinate of each plane that the steps' own values make."""
    for cut in cuts:
        boxes = [extents[i] for f in cut.features for i in f.faces if i in extents]
        yield from _heights(cut, view, boxes)
        yield from _sides(cut, view)
        side = cut.step.allowance_side
        if side:
            for axis in view.axes[:2]:
                for low, high in boxes:
                    yield from ((axis, float(end + s)) for end in (low[axis], high[axis]) for s in (side, -side))


def _sides(cut: Cut, view: View) -> Iterator[tuple[int, float]]:
    """Where a tool that is sunk on its axis is of another size than the hole: its own outermost places."""
    sizes = [size for f in cut.features for size in (f.diameter, f.top_diameter) if size is not None]
    for plunge in cut.plunges:
        if all(abs(plunge.diameter - size) > LENGTH for size in sizes):
            for axis in view.axes[:2]:
                yield from ((axis, plunge.centre[axis] + way * plunge.diameter / 2) for way in (-1.0, 1.0))


def _heights(cut: Cut, view: View, boxes: Sequence[tuple[Floats, Floats]]) -> Iterator[tuple[int, float]]:
    axis, sign = view.axes[2], view.signs[2]
    step, point = cut.step, cut.tool.point_length
    if step.bottom_z is not None:
        base = view.origin[axis] + sign * step.bottom_z
        yield from ((axis, base), (axis, base + sign * point))
        return
    ends = {float(end[axis]) for box in boxes for end in box}
    if step.cutting_depth is not None:
        yield from ((axis, end - sign * step.cutting_depth) for end in sorted(ends))
        return
    lifts = {lift for lift in (step.allowance_bottom, step.allowance_bottom - step.overcut_length) if lift}
    yield from ((axis, end + sign * lift) for end in sorted(ends) for lift in sorted(lifts))
