"""A cutter's round corner against the hollow faces at a floor's border: those it fits, and those that are tighter."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from schemas.tolerances import LENGTH
from worker.kernel import boolean
from worker.kernel.planar import contains, union
from worker.kernel.planar_edge import Edge, Point2, point_at, tangent_at
from worker.kernel.shadow import concave_radius
from worker.stage.model import ResolvedStep
from worker.stage.removal.scene import Scene, Sweep

BESIDE = 0.01
"""So far (mm) outside a level floor's border metal is looked for: fillets from 0.05 on have not risen by LENGTH yet."""
ALONG = (0.02, 0.25, 0.5, 0.75, 0.98)
"""Where on each side of the border."""


@dataclass(frozen=True)
class Fit:
    """Hollow faces that the corner fits, exactly or with room, and those that are tighter: none is an obstacle."""

    matched: frozenset[int] = frozenset()
    tighter: frozenset[int] = frozenset()

    @property
    def passed(self) -> frozenset[int]:
        """Both."""
        return self.matched | self.tighter


def fit_of(scene: Scene, job: ResolvedStep, hollow: Collection[int]) -> Fit:
    """How the tool's corner fits faces; none where an allowance keeps it off them."""
    corner = job.tool.corner_radius
    if corner <= LENGTH or job.step.allowance_side or job.step.allowance_bottom > 0:
        return Fit()
    radii = {i: concave_radius(scene.sky.body, i) for i in hollow if not scene.sky.shown[i].flat}
    matched = {i for i, r in radii.items() if r is not None and corner <= r + LENGTH}
    tighter = {i for i, r in radii.items() if r is not None and corner > r + LENGTH}
    return Fit(frozenset(matched), frozenset(tighter))


def without_corner(scene: Scene, job: ResolvedStep, fit: Fit, floors: Collection[int]) -> ResolvedStep:
    """The job with a sharp corner, where the corner fits all that rises from the floor: what is swept ends on those
    faces, and its own round is not needed. It is where another wall stands on the floor without a fillet."""
    if not fit.matched or fit.tighter or _has_sharp_foot(scene, floors):
        return job
    return replace(job, tool=job.tool.model_copy(update={"type": "endmill", "RE": None}))


def less_the_part(scene: Scene, sweep: Sweep) -> Sweep:
    """Where the corner fits the hollow faces, what is swept ends on them: the clear column less the part; whole where
    a stated depth goes into it."""
    if sweep.gouging:
        return sweep
    bodies = tuple(boolean.cut(body, [scene.part.body], merge=False) for body in sweep.bodies)
    return replace(sweep, bodies=bodies)


def _has_sharp_foot(scene: Scene, floors: Collection[int]) -> bool:
    """Whether metal of the part rises at once beside a level floor, without a fillet between."""
    level = [scene.sky.shown[i] for i in floors if scene.sky.shown[i].flat]
    for z in sorted({s.high for s in level}):
        risen = scene.sky.above(z + LENGTH)
        floor = union(scene.sky.region(s.index) for s in level if s.high == z)
        if any(contains(risen, place) for edge in floor.edges for place in _outside(edge)):
            return True
    return False


def _outside(edge: Edge) -> Iterator[Point2]:
    """Points beside a side of a region, which lies on its left."""
    for t in ALONG:
        (x, y), (dx, dy) = point_at(edge, t), tangent_at(edge, t)
        yield (x + BESIDE * dy, y - BESIDE * dx)
