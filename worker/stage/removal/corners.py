"""A cutter's round corner against the hollow faces at a floor's border: those it fits, and those that are tighter."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel import boolean
from worker.kernel.graph_surface import Surface
from worker.kernel.planar import contains, union
from worker.kernel.planar_edge import Edge, Point2, point_at, tangent_at
from worker.kernel.shadow import Shown, concave_radius
from worker.kernel.shape import Body
from worker.stage.model import ResolvedStep
from worker.stage.removal.bridged import bridged, leaning
from worker.stage.removal.scene import Scene

BESIDE = 0.01
"""So far (mm) outside a level floor's border metal is looked for: fillets from 0.05 on have not risen by LENGTH yet."""
ALONG = (0.02, 0.25, 0.5, 0.75, 0.98)
"""Where on each side of the border."""

RISES = 1.05
"""A fillet along a level floor rises by its radius at most; one along a slope by what the slope rises as well."""


@dataclass(frozen=True)
class Fit:
    """Hollow faces that the corner fits, exactly or with room, and those that are tighter: none is an obstacle.

    ``slope``: how round flat passes over a slope leave their borders, 0 where none are run; ``floors``: heights where
    they run along a level floor, and leave the corner's own round. ``barred``: fillets at the lower end of a floor that
    slopes, which a flat bottom cannot follow. ``trough``: the one that is all that the corner follows; ``beneath``:
    faces that lie lower than that, on past which it goes along the trough's ``bed``.
    """

    matched: frozenset[int] = frozenset()
    tighter: frozenset[int] = frozenset()
    slope: float = 0.0
    floors: tuple[float, ...] = ()
    trough: Surface | None = None
    barred: frozenset[int] = frozenset()
    beneath: frozenset[int] = frozenset()
    bed: Body | None = None

    @property
    def passed(self) -> frozenset[int]:
        """All of them."""
        return self.matched | self.tighter | self.beneath

    def round_at(self, tip: float, corner: float) -> float:
        """How round a pass at that height leaves its borders: below the floors and along them as the corner is."""
        along = any(abs(tip - z) <= COINCIDENT for z in self.floors) or tip < min(self.floors, default=tip)
        return corner if along or not self.slope else self.slope


FITS_NONE = Fit()


def fit_of(scene: Scene, job: ResolvedStep, hollow: Collection[int]) -> Fit:
    """How the tool's corner fits faces; none where an allowance keeps it off them, or its flat bottom bridges some."""
    corner = job.tool.corner_radius
    if corner <= LENGTH or job.step.allowance_side or job.step.allowance_bottom > 0:
        return FITS_NONE
    radii = {i: concave_radius(scene.sky.body, i) for i in hollow if not scene.sky.shown[i].flat}
    barred = bridged(scene, job.tool, [i for i, r in radii.items() if r is not None])
    if barred - leaning(scene, barred):
        return FITS_NONE
    matched = {i for i, r in radii.items() if r is not None and corner <= r + LENGTH} - barred
    tighter = {i for i, r in radii.items() if r is not None and corner > r + LENGTH} | barred
    return Fit(frozenset(matched), frozenset(tighter), barred=barred)


def on_slopes(scene: Scene, job: ResolvedStep, fit: Fit, floors: Collection[int]) -> Fit:
    """The same beside a floor that slopes: the corner follows what rises from one level alone. Along slopes flat passes
    leave its own round, or the fillet's where that is larger: a ball of that size beside the wall and off the slope's
    line touches no such fillet. Passes leave corners as round as that as well. What is
    wider than the cutter stands in its way."""
    shown = [scene.sky.shown[i] for i in floors]
    heights = {min(s.low for s in shown), *(s.high for s in shown if s.flat)}
    radii = {i: concave_radius(scene.sky.body, i) or 0.0 for i in fit.passed}
    level = {i for i, r in radii.items() if _rises_from(scene.sky.shown[i], heights, r)}
    along = {i: r for i, r in radii.items() if i not in level and r <= job.tool.diameter + LENGTH}
    slope = max((job.tool.corner_radius, *along.values()))
    return Fit(fit.matched & level, (fit.tighter & level) | frozenset(along), slope, tuple(sorted(heights)))


def _rises_from(shown: Shown, heights: Collection[float], radius: float) -> bool:
    """Whether a hollow face of that radius begins at one of some heights, and rises no more than it would there."""
    return any(abs(shown.low - z) <= LENGTH for z in heights) and shown.high - shown.low <= RISES * radius


def without_corner(scene: Scene, job: ResolvedStep, fit: Fit, floors: Collection[int]) -> ResolvedStep:
    """The job with a sharp corner, where the corner fits all that rises from the floor: what is swept ends on those
    faces, and its own round is not needed. It is where another wall stands on the floor without a fillet."""
    if not fit.matched or fit.tighter or _has_sharp_foot(scene, floors) or _ends_at_wall(scene, fit, floors):
        return job
    return replace(job, tool=job.tool.model_copy(update={"type": "endmill", "RE": None}))


def less_the_part(scene: Scene, bodies: Sequence[Body], tips: Sequence[float], fit: Fit) -> tuple[Body, ...]:
    """Where the corner fits hollow faces, what is swept ends on them: the columns less the part, and less the bed of
    the trough that it follows, but for those whose tips run above all such faces."""
    highest = max((scene.sky.shown[i].high for i in fit.matched), default=-math.inf)
    below = [scene.part.body] if fit.bed is None else [fit.bed, scene.part.body]
    return tuple(
        boolean.cut(body, below, merge=False) if tip < highest - COINCIDENT else body
        for body, tip in zip(bodies, tips, strict=True)
    )


def _has_sharp_foot(scene: Scene, floors: Collection[int]) -> bool:
    """Whether metal of the part rises at once beside a level floor, without a fillet between."""
    level = [scene.sky.shown[i] for i in floors if scene.sky.shown[i].flat]
    for z in sorted({s.high for s in level}):
        risen = scene.sky.above(z + LENGTH)
        floor = union(scene.sky.region(s.index) for s in level if s.high == z)
        if any(contains(risen, place) for edge in floor.edges for place in _outside(edge)):
            return True
    return False


def _ends_at_wall(scene: Scene, fit: Fit, floors: Collection[int]) -> bool:
    """Whether metal rises at once from a hollow floor that the corner fits, where that has not risen half its way yet:
    an end wall across a trough. The walls that a fillet rises into stand at its upper border."""
    for one in (scene.sky.shown[i] for i in floors if i in fit.matched):
        risen, upper = scene.sky.above(one.high - LENGTH), scene.sky.above((one.low + one.high) / 2)
        for edge in scene.sky.region(one.index).edges:
            sides = zip(_outside(edge), _outside(edge, -BESIDE), strict=True)
            if any(contains(risen, out) and not contains(upper, within) for out, within in sides):
                return True
    return False


def _outside(edge: Edge, far: float = BESIDE) -> Iterator[Point2]:
    """Points beside a side of a region, which lies on its left."""
    for t in ALONG:
        (x, y), (dx, dy) = point_at(edge, t), tangent_at(edge, t)
        yield (x + far * dy, y - far * dx)
