"""Where steps leave floors and walls that the part does not have: allowances, overcuts, stated depths (mm).

Cell borders belong there as well; between two borders a plane is seen half a cell off.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from schemas.tool import MILLS
from worker.field.bound import by_face
from worker.field.lines import Floats
from worker.field.scene import UPRIGHT
from worker.field.view import View
from worker.stage.model import Cut

Extents = dict[int, tuple[Floats, Floats, Floats]]
"""Face number to the lowest and highest coordinates of its box and where it looks on the whole, part's frame."""
FLATTISH = np.cos(np.radians(47.0))
"""A face at 45 degrees is a floor."""
PASSES, MOST_PASSES = 8, 60
"""Passes over a sloping floor without a stated depth of cut, and at most."""


CROWNED = frozenset({"profile_feature", "boss"})
"""Made round their own axis, but faces of theirs may look towards the spindle."""


def keeps_off(cut: Cut) -> bool:
    """Whether a cutter follows nothing that leans: for an allowance, or for want of a round corner."""
    return max(cut.step.allowance_side, cut.step.allowance_bottom) > 0 or cut.tool.corner_radius <= LENGTH


def lift_of(cut: Cut) -> float:
    """How far above faces that it follows a cutter stays, by what the step is to leave on them or to go below."""
    most = max(cut.step.allowance_bottom, cut.step.allowance_side)
    return most if most > 0 else min(cut.step.allowance_bottom, cut.step.allowance_side)


def extents_of(triangles: Floats, owner: np.ndarray[tuple[int, ...], np.dtype[np.int32]]) -> Extents:
    """The box of each face; the sum of its triangles' areas as vectors, as a share of the sum of their sizes."""
    found: Extents = {}
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    for face, own in by_face(owner):
        points, mine = triangles[own].reshape(-1, 3), across[own]
        looks = mine.sum(axis=0) / max(float(np.linalg.norm(mine, axis=1).sum()), 1e-12)
        found[face] = (points.min(axis=0), points.max(axis=0), looks)
    return found


def passes(cut: Cut, bottom: float, top: float) -> list[float]:
    """Heights above the bottom at which a floor that slopes up to ``top`` is cut flat: the plan's axial depth of cut
    apart, else half a diameter, and eight of them at least."""
    apart = cut.step.technology.axial_cutting_depth or min(cut.tool.radius, (top - bottom) / PASSES)
    steps = np.arange(1, MOST_PASSES + 1) * apart
    return [float(z) for z in bottom + steps[steps < top - bottom - COINCIDENT * apart]]


def stated_planes(cuts: Iterable[Cut], view: View, extents: Extents) -> Iterator[tuple[int, float]]:
    """Axis of the part's frame and coordinate of each plane that the steps' own values make."""
    for cut in cuts:
        faces = [extents[i] for f in cut.features for i in f.faces if i in extents]
        steep = any(f.class_ in CROWNED or (f.class_ == "region" and keeps_off(cut)) for f in cut.features)
        boxes = [(low, high) for low, high, _ in faces]
        yield from _heights(cut, view, boxes)
        yield from _terraces(cut, view, faces, UPRIGHT if steep else FLATTISH)
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
    own = lift_of(cut) if step.operation == "freeform_operation" else 0.0
    lifts = {lift for lift in (step.allowance_bottom, step.allowance_bottom - step.overcut_length, own) if lift}
    yield from ((axis, end + sign * lift) for end in sorted(ends) for lift in sorted(lifts))


def _terraces(
    cut: Cut, view: View, faces: Sequence[tuple[Floats, Floats, Floats]], least: float
) -> Iterator[tuple[int, float]]:
    """Where a milling cutter leaves steps on floors that are neither level nor walls: they look up by so much."""
    axis, sign, step = view.axes[2], view.signs[2], cut.step
    up = [(view.to_setup(low), view.to_setup(high), float(looks[axis] * sign)) for low, high, looks in faces]
    ends = [(min(a[2], b[2]), max(a[2], b[2]), look) for a, b, look in up]
    slopes = [(low, high) for low, high, look in ends if look > least and high - low > COINCIDENT]
    if cut.tool.type not in MILLS or not slopes:
        return
    raised = max(step.allowance_bottom, 0.0) if step.bottom_z is None else 0.0
    seen = min(low for low, _, look in ends if look > UPRIGHT)
    bottom = seen + step.allowance_bottom if step.bottom_z is None else step.bottom_z
    for z in passes(cut, bottom, max(high for _, high in slopes) + raised):
        yield axis, view.origin[axis] + sign * z
