"""A ball along a trough that is shallower than its own radius, with a wall across an end of it (setup's frame, mm).

The trough is narrower than a ball that fits it: where the ball is wider there is air alone, above the trough's rim. It
rolls over all of the round up to where, with its tip on the lowest line, it touches a wall's upper edge; before that it
leaves its own round.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Frame, Vec3, add, scale
from schemas.tolerances import COINCIDENT, LENGTH, OPENING_SLACK
from worker.kernel import boolean, measure
from worker.kernel import primitives as solid
from worker.kernel.graph_surface import Surface
from worker.kernel.planar import Region, contains, grow, intersect, overlap, polygon, rectangle, subtract, union
from worker.kernel.shape import Body
from worker.stage.model import ResolvedStep
from worker.stage.removal.corners import BESIDE, Fit
from worker.stage.removal.footprint import Footprint
from worker.stage.removal.levels import CLEAR
from worker.stage.removal.own_size import LOST
from worker.stage.removal.scene import Scene, Sweep


@dataclass(frozen=True)
class _Run:
    """A trough and a ball with its tip on the lowest line: half widths of both at the rim; where along the axis the
    trough begins and ends, and whether at walls."""

    trough: Surface
    ball: float
    bottom: float
    rim: float
    ends: tuple[float, float]
    walled: tuple[bool, bool]

    @property
    def half(self) -> float:
        return _half(self.trough.radius, self.rim - self.bottom)

    @property
    def foot(self) -> float:
        """Where balls at the ends stand: a smaller one a hair up, or no boolean could tell where it touches."""
        return self.bottom if self.ball == self.trough.radius else self.bottom + CLEAR

    @property
    def reach(self) -> float:
        return _half(self.ball, self.rim - self.foot)

    @property
    def stops(self) -> tuple[float, float]:
        """Where the ball's middle goes to."""
        first, last = (
            at + way * wall * self.reach for at, way, wall in zip(self.ends, (1, -1), self.walled, strict=True)
        )
        return first, last


def _half(radius: float, depth: float) -> float:
    return math.sqrt(radius**2 - (radius - depth) ** 2)


def along_shallow(scene: Scene, job: ResolvedStep, fit: Fit, plan: Footprint) -> Sweep | None:
    """What the ball takes; None where that is no shallow trough between square ends, or more stands about it."""
    run = _run_of(scene, job, fit, plan)
    if run is None or not _is_free(scene, run, plan.ground):
        return None
    body = _body(scene, run)
    if body is None:
        return None
    covered = intersect(plan.ground, scene.reach(job.tool))
    return Sweep((body,), covered, tip_z=run.bottom, full_diameter_z=run.bottom, nominal_z=plan.bottom)


def _run_of(scene: Scene, job: ResolvedStep, fit: Fit, plan: Footprint) -> _Run | None:
    trough, tool, step = fit.trough, job.tool, job.step
    if trough is None or fit.beneath or step.bottom_z is not None or step.allowance_bottom:
        return None
    rim = max(scene.sky.shown[i].high for i in fit.matched)
    ball = trough.radius if abs(tool.radius - trough.radius) <= LENGTH else tool.radius
    if tool.radius - tool.corner_radius > COINCIDENT or rim > plan.bottom + ball + LENGTH:
        return None
    u, v, _ = scene.frame.direction_to_local(trough.axis)
    x, y, _ = scene.frame.to_local(trough.origin)
    along = [(p[0] - x) * u + (p[1] - y) * v for p in plan.core.points.tolist()]
    low, far = min(along), max(along)
    walls = scene.sky.above(rim - LENGTH)
    first, last = (contains(walls, (x + at * u, y + at * v)) for at in (low - BESIDE, far + BESIDE))
    if not (first or last):
        return None
    more = scene.metal.diagonal + tool.diameter
    ends = (low - more * (not first), far + more * (not last))
    run = _Run(trough, ball, plan.bottom, rim, ends, (first, last))
    return run if run.stops[1] - run.stops[0] > LENGTH else None


def _strip(scene: Scene, run: _Run, more: float) -> Region:
    """The trough's plan, so much wider and longer."""
    u, v, _ = scene.frame.direction_to_local(run.trough.axis)
    x, y, _ = scene.frame.to_local(run.trough.origin)
    (a, b), w = (run.ends[0] - more, run.ends[1] + more), run.half + more
    return polygon([(x + at * u - off * v, y + at * v + off * u) for at, off in ((a, -w), (b, -w), (b, w), (a, w))])


def _is_free(scene: Scene, run: _Run, ground: Region) -> bool:
    """Whether the ground is the trough's own strip, and nothing stands about it where the ball is wider."""
    metal, strip = rectangle(*scene.plan), _strip(scene, run, 0.0)
    most = 8 * run.trough.radius * OPENING_SLACK
    if any(intersect(subtract(a, [b]), metal).area > most for a, b in ((strip, ground), (ground, strip))):
        return False
    over = union([scene.sky.above(run.rim + COINCIDENT), scene.held(run.bottom)])
    return not overlap(over, intersect(_strip(scene, run, run.ball), grow(metal, run.ball)))


def _body(scene: Scene, run: _Run) -> Body | None:
    """The trough, ended by balls, up to its rim, and all above it as wide as there."""
    height, z = scene.top - run.rim, scene.frame.z
    first, last = run.stops
    line = scene.frame.to_local(run.trough.origin)[2]
    begin, end = (add(run.trough.origin, scale(run.trough.axis, at)) for at in run.stops)
    frame = Frame(location=add(begin, scale(z, run.rim - line)), axis=z, ref_direction=run.trough.axis)
    far, wide = last - first, 2 * run.trough.radius
    balls = [at for at, wall in zip((begin, end), run.walled, strict=True) if wall]
    round_ = [solid.cylinder(begin, end, wide), *_balls(scene, run, balls, line)]
    over = solid.box((-wide, -wide, 0.0), (far + wide, wide, 2 * wide), frame)
    lower = boolean.cut(boolean.fuse(round_), [over])
    upper = [solid.box((0.0, -run.half, 0.0), (far, run.half, height), frame)]
    for at in balls:
        foot = add(at, scale(z, run.rim - line))
        upper.append(solid.cylinder(foot, add(foot, scale(z, height)), 2 * run.reach))
    body = boolean.fuse([lower, *upper])
    return body if abs(measure.volume(body) - (expected := _volume(run, height))) <= LOST * expected else None


def _balls(scene: Scene, run: _Run, at: Sequence[Vec3], line: float) -> list[Body]:
    return [solid.sphere(add(p, scale(scene.frame.z, run.foot + run.ball - line)), 2 * run.ball) for p in at]


def _volume(run: _Run, height: float) -> float:
    depth, radius, far = run.rim - run.bottom, run.trough.radius, run.stops[1] - run.stops[0]
    section = radius**2 * math.acos(1 - depth / radius) - (radius - depth) * run.half
    under = run.rim - run.foot
    cap = math.pi * under**2 * (3 * run.ball - under) / 3
    ended = sum(run.walled) * (cap + math.pi * run.reach**2 * height) / 2
    return (section + 2 * run.half * height) * far + ended
