"""A ball along a trough shallower than the trough's own radius that ends at walls: what it passes over (mm).

Above the rim there is air, so the ball may be wider there than the trough. Its floor is told by triangles of its own:
the trough's round, and at a wall a quarter of the ball, whose widest place at the rim's height touches the wall.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH, OPENING_SLACK
from worker.field.bridged import bridged
from worker.field.fitted import Fit, cylinder_through, slanting
from worker.field.ground import bounded
from worker.field.lines import Floats, intersect, subtract
from worker.field.plane import Join, Region, Shadow
from worker.field.scene import Scene
from worker.field.solids import Lifted
from worker.stage.model import Cut

SAGITTA = 2e-4
"""Deflection (mm) of the triangles of a floor."""
LEVEL = 1e-4
"""A trough lies where its direction rises by no more (sine)."""
BESIDE = 0.02
"""How far outside an end its wall is looked for: beyond the chords of triangles (mm)."""


@dataclass(frozen=True, eq=False)
class _Way:
    """The ball's way: a point of the trough's line and its direction (x, y), the line's height; both radii, the lowest
    line and the rim; where along it the trough ends, and at which ends a wall stands."""

    at: Floats
    along: Floats
    line: float
    trough: float
    ball: float
    rim: float
    ends: tuple[float, float]
    walled: tuple[bool, bool]

    @property
    def half(self) -> float:
        return math.sqrt(self.trough**2 - (self.line - self.rim) ** 2)

    @property
    def middle(self) -> float:
        return self.line - self.trough + self.ball

    @property
    def reach(self) -> float:
        return math.sqrt(self.ball**2 - (self.middle - self.rim) ** 2)

    def place(self, u: Floats, v: Floats, z: Floats) -> Floats:
        """Points (..., 3) so far along the way, to its left and up."""
        u, v, z = np.broadcast_arrays(u, v, z)
        x, y = (self.at[k] + u * self.along[k] + v * (-self.along[1], self.along[0])[k] for k in (0, 1))
        return np.stack((x, y, z), axis=-1)

    def strip(self, more: float) -> Region:
        """The trough's plan, so much wider and longer."""
        (a, b), w = (self.ends[0] - more, self.ends[1] + more), self.half + more
        corners = self.place(np.array((a, b, b, a)), np.array((-w, -w, w, w)), np.zeros(4))
        return bounded([(float(x), float(y)) for x, y, _ in corners])


def along_shallow(scene: Scene, cut: Cut, fit: Fit, ground: Region) -> Lifted | None:
    """What the ball takes; None where that is no shallow trough between square ends, or more stands about it."""
    way = _way_of(scene, cut, fit)
    if way is None or not _is_free(scene, way, ground):
        return None
    return Lifted(scene.view, _floor(way), scene.top)


def _way_of(scene: Scene, cut: Cut, fit: Fit) -> _Way | None:
    hollow = dict(slanting(scene, fit.followed))
    if not hollow or fit.beneath or cut.step.bottom_z is not None or cut.step.allowance_bottom:
        return None
    mine = np.concatenate([hollow[face] for face in sorted(hollow)])
    found = cylinder_through(mine) if bridged(hollow) == frozenset(hollow) else None
    if found is None or abs(found[0][2]) > LEVEL or cut.tool.radius - cut.tool.corner_radius > COINCIDENT:
        return None
    axis, middle, radius = found
    ball = radius if abs(cut.tool.radius - radius) <= LENGTH else cut.tool.radius
    rim, along = float(mine[:, :, 2].max()), axis[:2] / np.hypot(*axis[:2])
    if rim > middle[2] - radius + ball + LENGTH:
        return None
    far = (mine[:, :, :2] - middle[:2]) @ along
    low, high = float(far.min()), float(far.max())
    walled = (
        _is_walled(scene, middle[:2] + (low - BESIDE) * along, rim),
        _is_walled(scene, middle[:2] + (high + BESIDE) * along, rim),
    )
    if not any(walled):
        return None
    more = float(np.linalg.norm(np.ptp(scene.part, axis=(0, 1)))) + 2 * (scene.top - rim) + cut.tool.diameter
    ends = (low - more * (not walled[0]), high + more * (not walled[1]))
    way = _Way(middle[:2], along, float(middle[2]), radius, ball, rim, ends, walled)
    return way if high - low > sum(walled) * way.reach + LENGTH else None


def _is_walled(scene: Scene, at: Floats, rim: float) -> bool:
    """Whether the part stands up to the rim at a place."""
    lines = scene.shadow(rim - LENGTH).scan(0, np.array([at[1]]))
    return bool(np.any((lines.start < at[0]) & (lines.stop > at[0])))


def _is_free(scene: Scene, way: _Way, ground: Region) -> bool:
    """Whether the ground is the trough's own strip, and nothing stands about it where the ball is wider."""
    ys, low, high = scene.scan_lines[0], scene.room[0], scene.room[2]
    one, other, width = ground.scan(0, ys), way.strip(0.0).scan(0, ys), np.gradient(ys)
    for lines in (subtract(one, other), subtract(other, one)):
        inside = np.minimum(lines.stop, high) - np.maximum(lines.start, low)
        if float(np.sum(np.maximum(inside, 0.0) * width[lines.line])) > 8 * way.trough * OPENING_SLACK:
            return False
    held = Shadow(scene.held_up, way.line - way.trough + COINCIDENT)
    over = Join((scene.shadow(way.rim + COINCIDENT), *((held,) if len(scene.held_up) else ())))
    found = intersect(way.strip(way.ball).scan(0, ys), over.scan(0, ys))
    near = (found.stop > low - way.ball) & (found.start < high + way.ball)
    return not bool(near.any())


def _floor(way: _Way) -> Floats:
    """Triangles (n, 3, 3) of the floor, looking up."""
    stops = [end + side * wall * way.reach for end, side, wall in zip(way.ends, (1, -1), way.walled, strict=True)]
    turn = _angles(way.trough, math.acos((way.line - way.rim) / way.trough), 2)
    section = np.stack((way.trough * np.sin(turn), way.line - way.trough * np.cos(turn)), axis=1)
    ends = (way.place(np.array(stop), section[:, 0], section[:, 1]) for stop in stops)
    found = [_between(np.stack(tuple(ends)))]
    up = _angles(way.ball, math.acos((way.middle - way.rim) / way.ball), 1)
    round_ = _angles(way.ball, math.pi / 2, 2)
    for stop, side, wall in zip(stops, (-1, 1), way.walled, strict=True):
        if wall:
            off = way.ball * np.sin(up)[:, None]
            z = (way.middle - way.ball * np.cos(up))[:, None]
            cap = way.place(stop + side * off * np.cos(round_), off * np.sin(round_), z)
            found.append(_between(cap if side < 0 else cap[::-1]))
    return np.concatenate(found)


def _angles(radius: float, half: float, sides: int) -> Floats:
    """Angles up to a half, on one side or both, so close that chords stay near the round."""
    count = math.ceil(half / (2 * math.acos(1 - SAGITTA / radius)))
    return np.linspace(-half if sides == 2 else 0.0, half, sides * count + 1)


def _between(net: Floats) -> Floats:
    """Triangles of a net of points (n, m, 3), those of its first row on the right."""
    a, b, c, d = (some.reshape(-1, 3) for some in (net[:-1, :-1], net[1:, :-1], net[1:, 1:], net[:-1, 1:]))
    found = np.concatenate((np.stack((a, b, c), axis=1), np.stack((a, c, d), axis=1)))
    across = np.cross(found[:, 1] - found[:, 0], found[:, 2] - found[:, 0])
    found = found[np.linalg.norm(across, axis=1) > COINCIDENT**2]
    across = across[np.linalg.norm(across, axis=1) > COINCIDENT**2]
    return np.asarray(np.where((across[:, 2] < 0)[:, None, None], found[:, ::-1], found))
