"""Hollow faces of a floor beside a cutter's round corner: how round they are, and what ends on them (mm).

Where the corner fits a hollow face, the cutter follows it: what it clears ends on the face. A hollow face that is
tighter is left as the corner itself leaves it. The radius comes from the face's triangles, whose corners lie on it:
the ball, the cylinder or the upright ring through them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.field.arcs import ball_through, circle_through, level_rims
from worker.field.bends import bent, folded
from worker.field.bridged import bridged, leaning
from worker.field.lines import Floats
from worker.field.scene import UPRIGHT, Scene
from worker.field.triangles import CHORD
from worker.stage.model import Cut

ON_FACE = LENGTH
"""Corners lie on one ball, or circle, within this: where two fillets meet, the kernel's curve is that far off them."""
SQUARE = 1e-3
"""Directions are square to an axis within this (sine); a triangle that is cut off aslant leans as far as its chords
let it."""
SURE = 1.1
"""A radius by quadrics tells that a corner fits, or does not, where the two differ by this factor."""
TIGHTEST, USUAL = 0.995, 0.9
"""Shares of a face's corners: at its border quadrics rest on one side, and bend more than the face."""
RISES = 1.05
"""A fillet along a level floor rises by its radius at most; one along a slope by what the slope rises as well."""
Cylinder = tuple[Floats, Floats, float]
"""Direction (3,) and a point (3,) of the axis, radius."""
LEAST = 3
"""Triangles that tell a cylinder."""
TURNS = 3
"""Steps in which a cylinder's axis is made better."""
PLANE = 1e-9
"""Share of a plane face's area that the sum of its triangles' areas, as vectors, may be less."""


@dataclass(frozen=True, eq=False)
class Fit:
    """Faces of a floor that the corner follows, and those that are tighter than it; ``onward``: whether it goes on
    beyond them, through what crosses the floor or to a wall without a fillet, where its own round alone ends what it
    clears. ``slope``: how round flat passes over a slope leave their borders, but for such at heights of ``floors``.
    ``barred``: fillets at the lower end of a slope, which no flat bottom follows. ``beneath``: faces lower than a
    trough that it follows on past them; there it ends on the triangles ``bed``."""

    followed: frozenset[int] = frozenset()
    tighter: frozenset[int] = frozenset()
    onward: bool = False
    slope: float = 0.0
    floors: tuple[float, ...] = ()
    barred: frozenset[int] = frozenset()
    beneath: frozenset[int] = frozenset()
    bed: Floats | None = None

    @property
    def passed(self) -> frozenset[int]:
        """All faces that are no obstacle."""
        return self.followed | self.tighter | self.beneath

    def round_at(self, tip: float, corner: float) -> float:
        """How round a pass at that height leaves its borders: below the floors and along them as the corner is."""
        along = any(abs(tip - z) <= COINCIDENT for z in self.floors) or tip < min(self.floors, default=tip)
        return corner if along or not self.slope else self.slope


FITS_NONE = Fit()


def fit_of(scene: Scene, cut: Cut, hollow: Collection[int], crossing: Sequence[int] = ()) -> Fit:
    """How the tool's corner fits a feature's hollow faces, and those of recesses that share its floor (their faces:
    ``crossing``): where they cross, the fillets of one stand in the other's corners.

    With an allowance the cutter stays off the faces as they are, and fits none; nor where its flat bottom bridges some.
    """
    corner = cut.tool.corner_radius
    if corner <= LENGTH or cut.step.allowance_side or cut.step.allowance_bottom > 0:
        return FITS_NONE
    followed: set[int] = set()
    tighter: set[int] = set()
    crossed = dict(slanting(scene, crossing))
    shown = dict((*slanting(scene, hollow), *crossed.items()))
    radii = {face: radius for face, own in shown.items() if math.isfinite(radius := radius_of(own))}
    flat = cut.tool.radius - corner > LENGTH
    barred = bridged({face: shown[face] for face in radii}) if flat else frozenset()
    if any(not leaning(one) for one in _alike({face: shown[face] for face in sorted(barred)})):
        return FITS_NONE
    for face, radius in radii.items():
        (followed if corner <= radius + LENGTH and face not in barred else tighter).add(face)
    return Fit(frozenset(followed), frozenset(tighter), bool(crossed), barred=barred)


def _alike(faces: dict[int, Floats]) -> Iterator[dict[int, Floats]]:
    """Faces by the cylinder through their corners: a trough may come in halves; others by themselves."""
    groups: list[tuple[Cylinder, dict[int, Floats]]] = []
    for face, own in faces.items():
        found = cylinder_through(own)
        if found is None:
            yield {face: own}
            continue
        mates = next((group for other, group in groups if _one(found, other)), None)
        if mates is None:
            groups.append((found, {face: own}))
        else:
            mates[face] = own
    yield from (group for _, group in groups)


def _one(a: Cylinder, b: Cylinder) -> bool:
    off = np.cross(a[1] - b[1], a[0])
    return bool(abs(a[0] @ b[0]) > 1 - SQUARE**2 and np.linalg.norm(off) <= ON_FACE and abs(a[2] - b[2]) <= ON_FACE)


def on_slopes(scene: Scene, cut: Cut, fit: Fit, floors: Floats) -> Fit:
    """The same beside a floor that slopes (triangles ``floors``): the corner follows what rises from one level, by its
    radius at most. Along the slope passes leave its own round, or a fillet's where that is larger, in their corners
    as well; what is wider than the cutter stands in its way."""
    z = floors[:, :, 2]
    heights = (float(z.min()), *np.unique(z[np.ptp(z, axis=1) <= COINCIDENT]).tolist())
    own = {face: scene.part[scene.owner == face] for face in fit.passed}
    radii = {face: radius_of(mine) for face, mine in own.items()}
    level = {face for face, radius in radii.items() if _rises_from(own[face][:, :, 2], heights, radius)}
    along = {face: r for face, r in radii.items() if face not in level and r <= cut.tool.diameter + LENGTH}
    slope = max((cut.tool.corner_radius, *along.values()))
    return Fit(fit.followed & level, (fit.tighter & level) | frozenset(along), True, slope, heights)


def _rises_from(z: Floats, heights: Sequence[float], radius: float) -> bool:
    low, high = float(z.min()), float(z.max())
    return any(abs(low - at) <= LENGTH for at in heights) and high - low <= RISES * radius


def following(scene: Scene, cut: Cut, feature: Feature) -> tuple[list[int], list[int]]:
    """The faces of a feature that a cutter follows without walls to hold it off: level ones, and those that are nowhere
    tighter than its round corner. And those of which that cannot be told, or which a flat bottom may bridge."""
    corner, flat = cut.tool.corner_radius, cut.tool.radius - cut.tool.corner_radius > LENGTH
    found = [face for face in feature.faces if _looks_up(scene, face)]
    sloped = dict(slanting(scene, feature.faces))
    round_ = corner > LENGTH
    radii = {face: _radius_beside(sloped[face], corner) for face in found if face in sloped and round_}
    fits = {face for face, radius in radii.items() if radius is not None and radius >= corner - LENGTH}
    open_ = {face for face, radius in radii.items() if radius is None or (flat and face in fits and radius < math.inf)}
    sure = [face for face in found if face not in sloped or face in fits - open_]
    return sure, [face for face in found if face in open_]


def _looks_up(scene: Scene, face: int) -> bool:
    looks = scene.looks[(scene.owner == face) & ~scene.slivers]
    return bool(np.any(looks > UPRIGHT) and not np.any(looks < -UPRIGHT))


def slanting(scene: Scene, faces: Iterable[int]) -> Iterator[tuple[int, Floats]]:
    """Those faces that look up and are not level, with their triangles."""
    for face in faces:
        mine = scene.owner == face
        if np.any(scene.looks[mine] > UPRIGHT) and np.ptp(scene.part[mine][:, :, 2]) > COINCIDENT:
            yield face, scene.part[mine]


def _radius_beside(triangles: Floats, corner: float) -> float | None:
    """The smallest radius at which a face is hollow; None where it may be either more or less than the corner."""
    exact = hollow_radius(triangles)
    if exact is not None:
        return exact
    tight, wide = _bent(triangles, TIGHTEST), _bent(triangles, USUAL)
    return tight if tight > corner * SURE else wide if wide < corner / SURE else None


def _bent(triangles: Floats, share: float) -> float:
    return bent(triangles, share) or folded(triangles, share)


def radius_of(triangles: Floats) -> float:
    """The smallest radius at which a face is hollow, by quadrics where it is no ball, cylinder or ring: near a corner's
    own both ways leave the same."""
    return hollow_radius(triangles) or _bent(triangles, USUAL)


def hollow_radius(triangles: Floats) -> float | None:
    """The smallest radius at which a face (n, 3, 3) is hollow; infinite where it is flat or bulges, None if unknown."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(across, axis=1)
    if np.linalg.norm(across.sum(axis=0)) >= size.sum() * (1 - PLANE):
        return math.inf
    sound = size > COINCIDENT**1.5
    triangles, normal = triangles[sound], across[sound] / size[sound][:, None]
    for shape in (_cylinder, _ring, _ball):
        found = shape(triangles, normal)
        if found is not None:
            return found
    return None


def _ball(triangles: Floats, normal: Floats) -> float | None:
    found = ball_through(triangles.reshape(-1, 3), ON_FACE)
    if found is None:
        return None
    centre, radius = found
    toward = centre - triangles.mean(axis=1)
    across = np.linalg.norm(np.cross(toward, normal), axis=1)
    if np.any(across > np.abs(np.sum(toward * normal, axis=1))):
        return None  # two circles that some other face ends on lie on one ball as well
    return _hollow(toward, normal, radius)


def _cylinder(triangles: Floats, normal: Floats) -> float | None:
    found = _through(triangles, normal)
    if found is None:
        return None
    axis, middle, radius = found
    toward = middle - triangles.mean(axis=1)
    return _hollow(toward - np.outer(toward @ axis, axis), normal, radius)


def cylinder_through(triangles: Floats) -> Cylinder | None:
    """The cylinder that all corners of a face's triangles (n, 3, 3) lie on; None where there is none."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(across, axis=1)
    sound = size > COINCIDENT**1.5
    if np.count_nonzero(sound) < LEAST:
        return None
    return _through(triangles[sound], across[sound] / size[sound][:, None])


def _through(triangles: Floats, normal: Floats) -> Cylinder | None:
    axis = np.linalg.svd(normal, full_matrices=False)[2][2]
    long = np.ptp(triangles @ axis, axis=1)
    if np.any(np.abs(normal @ axis) > np.maximum(SQUARE, CHORD / np.maximum(long, COINCIDENT))):
        return None
    points = triangles.reshape(-1, 3)
    return _about(points, axis) or _about(points, _straightened(points, axis))


def _about(points: Floats, axis: Floats) -> Cylinder | None:
    plane = _square_to(axis)
    circle = circle_through(points @ plane, ON_FACE)
    return None if circle is None else (axis, plane @ circle[:2], float(circle[2]))


def _square_to(axis: Floats) -> Floats:
    first = np.cross(axis, (0.0, 0.0, 1.0) if abs(axis[2]) < 0.9 else (1.0, 0.0, 0.0))
    first /= np.linalg.norm(first)
    return np.stack((first, np.cross(axis, first)), axis=1)


def _straightened(points: Floats, axis: Floats) -> Floats:
    """The axis turned to where points (n, 3) lie the nearest to one cylinder (least squares, by Newton's way): where a
    face is cut off aslant, the normals of its triangles tell the axis to some 1e-5, a hundredth over 400 mm."""
    for _ in range(TURNS):
        plane, along = _square_to(axis), (points - points.mean(axis=0)) @ axis
        flat = points @ plane - (points @ plane).mean(axis=0)
        way = np.concatenate((2 * flat, np.ones((len(flat), 1))), axis=1)
        middle = np.linalg.lstsq(way, np.sum(flat * flat, axis=1), rcond=None)[0][:2]
        out = flat - middle
        away = np.maximum(np.hypot(*out.T), COINCIDENT)[:, None]
        out /= away
        tilts = np.concatenate((out * along[:, None], out, np.ones_like(away)), axis=1)
        axis = axis + plane @ np.linalg.lstsq(tilts, away[:, 0], rcond=None)[0][:2]
        axis /= np.linalg.norm(axis)
    return axis


def _ring(triangles: Floats, normal: Floats) -> float | None:
    """A fillet that runs round an upright axis; unknown where it bulges, or is tighter round that axis."""
    rims = level_rims(triangles)
    if not rims:
        return None
    centre = rims[0][:2]
    section = np.stack((np.hypot(*(triangles[:, :, :2] - centre).transpose(2, 0, 1)), triangles[:, :, 2]), axis=2)
    circle = circle_through(section.reshape(-1, 2), ON_FACE)
    if circle is None:
        return None
    middle = triangles.mean(axis=1)
    out = middle[:, :2] - centre
    rho = np.maximum(np.hypot(*out.T), COINCIDENT)
    lean = np.sum(normal[:, :2] * out, axis=1) / rho
    toward = circle[:2] - np.stack((rho, middle[:, 2]), axis=1)
    found = _hollow(toward, np.stack((lean, normal[:, 2]), axis=1), float(circle[2]))
    return found if math.isfinite(found) and np.max(-lean / rho) <= 1 / found else None


def _hollow(toward: Floats, normal: Floats, radius: float) -> float:
    """The radius where the normals look towards the middle on the whole."""
    return radius if float(np.sum(toward * normal)) > 0 else math.inf
