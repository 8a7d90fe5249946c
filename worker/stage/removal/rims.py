"""The lower edges of chamfers, along which a pointed cutter runs with its flank on the chamfer (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH, SAME_LENGTH
from worker.kernel.border_sides import Side, border_sides
from worker.kernel.planar_edge import Edge, length, point_at
from worker.kernel.shadow import Shown, Skyline, face_facts, flank_of

Floats = NDArray[np.float64]
STEP = 0.25
"""Points along an edge are no further apart (mm): between two of them a round pin of 4 stands 4 um nearer at most."""
FLAT = 1e-6
"""Where a normal's level part is less than this, no way is downhill."""
MOSTLY = 0.5
"""Share of its points that tells of a side."""
STEEP = 0.999
"""A flank follows no edge that climbs more steeply than this share of its own slope."""
ASIDE = 1e-2
"""A point this far out of a border (mm) tells on which side of it the face lies."""
DOWNHILL = 0.5
"""A chamfer's lower side is left downhill: within this (cosine) of its line of steepest fall."""


@dataclass(frozen=True, eq=False)
class Rim:
    """One chamfer face: points (n, 2) of its lower edge, the ways off the metal there (n, 2), and how far it comes in
    (``width``) and up (``tall``) from there to its upper edge (n,). ``edges`` are the lower edge itself, where that is
    level or straight. ``climb`` (n,) is how much each point lies above the lowest, at ``low``. ``base`` is how much
    higher the tip runs than at the lowest of several rims."""

    points: Floats
    off: Floats
    low: float
    width: Floats
    tall: Floats
    edges: tuple[Edge, ...]
    climb: Floats
    base: float = 0.0

    @property
    def high(self) -> float:
        """Height of the upper edge, where it is tallest over the lowest point."""
        return self.low + float(self.tall.max())

    @property
    def level(self) -> bool:
        """Whether the lower edge is level."""
        return not self.climb.any()


def rims_of(sky: Skyline, frame: Frame, features: Sequence[Feature], rise: float) -> list[Rim]:
    """The lower edges of chamfers that look up, also where they slope or bend, for a flank that widens by ``rise``."""
    found = (rim_of(sky, frame, i, rise) for i in _faces_up(sky, features))
    return [rim for rim in found if rim is not None]


def each_as_deep(rims: Sequence[Rim], tip: float | None) -> list[Rim]:
    """The rims of one chamfer, the tip as far below each as below the lowest; a stated tip is the same for all."""
    first = min((rim.low for rim in rims), default=0.0)
    return [rim if tip is not None else replace(rim, base=rim.low - first) for rim in rims]


def has_all_rims(sky: Skyline, frame: Frame, features: Sequence[Feature], rise: float) -> bool:
    """Whether every chamfer face that looks up has such an edge."""
    return all(rim_of(sky, frame, i, rise) is not None for i in _faces_up(sky, features))


def _faces_up(sky: Skyline, features: Sequence[Feature]) -> list[int]:
    chamfers = [sky.shown[i] for f in features if f.class_ == "chamfer" for i in f.faces]
    return [s.index for s in chamfers if s.look == "up" and not s.flat]


def rim_of(sky: Skyline, frame: Frame, index: int, rise: float) -> Rim | None:
    """The lower edge of one face; None where it has none."""
    facts, slope = face_facts(sky.body)[index], flank_of(sky.body, index, frame)
    if slope is None:
        return _bent(sky, index, rise)
    if facts.kind == "plane":
        return _straight(sky, frame, index, math.tan(math.radians(slope)))
    return _round(sky, frame, index, math.tan(math.radians(slope))) or _bent(sky, index, rise)


def _straight(sky: Skyline, frame: Frame, index: int, rise: float) -> Rim | None:
    shown, facts = sky.shown[index], face_facts(sky.body)[index]
    nx, ny, nz = frame.direction_to_local(facts.normals[0])
    spot = facts.adaptor.Plane().Location()
    x, y, z = frame.to_local((spot.X(), spot.Y(), spot.Z()))

    def height(p: tuple[float, float]) -> float:
        return z - (nx * (p[0] - x) + ny * (p[1] - y)) / nz

    level = [
        e for e in sky.border(index) if e.centre is None and max(height(e.a), height(e.b)) < shown.low + LENGTH
    ]  # fmt: skip
    size = math.hypot(nx, ny)
    out = np.array([nx / size, ny / size])
    if not level:
        return _sloping(sky.border(index), out, lambda p: z - ((p - [x, y]) @ out) * size / nz, rise)
    return _along(level, lambda p: np.broadcast_to(out, p.shape), shown, rise)


def _sloping(border: Sequence[Edge], out: Floats, height: Callable[[Floats], Floats], rise: float) -> Rim | None:
    """The lower one of a strip's two long sides: of the edges that are left downhill the longest, and what goes on as
    it runs. The flank lies on the strip along its lines of steepest fall."""
    downhill = [e for e in border if e.centre is None and _to_the_right(e) @ out > DOWNHILL]
    if not downhill:
        return None
    longest = max(downhill, key=length)
    side = [e for e in downhill if _to_the_right(e) @ _to_the_right(longest) > 1 - COINCIDENT]
    points = _spread(side)
    climb = height(points)
    across = _to_the_right(longest)
    corners = np.array([p for e in border for p in (e.a, e.b)])
    width = float(((np.array(longest.a) - corners) @ across).max() / (out @ across))
    low = float(climb.min())
    widths = np.full(len(points), width)
    return Rim(points, np.broadcast_to(out, points.shape), low, widths, widths / rise, tuple(side), climb - low)


def _to_the_right(edge: Edge) -> Floats:
    """The way out of the face across a straight edge of its border."""
    size = length(edge)
    return np.array([(edge.b[1] - edge.a[1]) / size, (edge.a[0] - edge.b[0]) / size])


def _round(sky: Skyline, frame: Frame, index: int, rise: float) -> Rim | None:
    shown, cone = sky.shown[index], face_facts(sky.body)[index].adaptor.Cone()
    apex = cone.Apex()
    x, y, z = frame.to_local((apex.X(), apex.Y(), apex.Z()))
    radius, out = abs(shown.low - z) * rise, 1.0 if z > shown.low else -1.0
    level = [e for e in sky.border(index) if e.centre is not None and abs(e.radius - radius) < LENGTH]

    def off(p: Floats) -> Floats:
        away = p - np.array([x, y])
        return np.asarray(out * away / np.maximum(np.hypot(*away.T), COINCIDENT)[:, None])

    return _along(level, off, shown, rise)


def _along(edges: Sequence[Edge], off: Callable[[Floats], Floats], shown: Shown, rise: float) -> Rim | None:
    if not edges:
        return None
    points = _spread(edges)
    tall, climb = np.full(len(points), shown.high - shown.low), np.zeros(len(points))
    return Rim(points, off(points), shown.low, tall * rise, tall, tuple(edges), climb)


def _bent(sky: Skyline, index: int, rise: float) -> Rim | None:
    """The sides of a strip from which the way out of it is downhill, each point with the nearest across from it."""
    sides = [s for s in border_sides(sky.body, index, sky.view, STEP) if _tells(s)]
    lower, upper = ([s for s in sides if _lies_out(sky, index, s, way)] for way in (1.0, -1.0))
    lower = _long_sides(lower, upper)
    if not lower or not upper:
        return None
    foot, ways = np.concatenate([s.points for s in lower]), np.concatenate([s.ways for s in lower])
    out = _touching(_unit(np.concatenate([s.normals for s in lower])), ways, rise)
    far = np.concatenate([s.points for s in upper])
    across = far[((far[None] - foot[:, None]) ** 2).sum(axis=2).argmin(axis=1)] - foot
    low = float(foot[:, 2].min())
    return Rim(foot[:, :2], out, low, -(across[:, :2] * out).sum(axis=1), across[:, 2], (), foot[:, 2] - low)


def _tells(side: Side) -> bool:
    """Whether face and edge have a level way all along."""
    return all(bool((np.hypot(*v[:, :2].T) > FLAT).all()) for v in (side.normals, side.ways))


def _lies_out(sky: Skyline, index: int, side: Side, way: float) -> bool:
    """Whether most of a side has the face uphill of it and nothing of it downhill, or the other way round (-1)."""
    down, at = ASIDE * _unit(side.normals), side.points[:, :2]
    region = sky.region(index)
    return float((~region.holds(at + way * down) & region.holds(at - way * down)).mean()) > MOSTLY


def _long_sides(lower: list[Side], upper: list[Side]) -> list[Side]:
    """Without the short sides at a strip's ends, which lead from its lower to its upper edge."""
    ends = [s.points[k] for s in upper for k in (0, -1)]
    longest = max((len(s.points) for s in lower), default=0)

    def leads_up(side: Side) -> bool:
        return any(float(np.linalg.norm(side.points[k] - e)) < SAME_LENGTH for k in (0, -1) for e in ends)

    return [s for s in lower if len(s.points) == longest or not leads_up(s)]


def _touching(off: Floats, ways: Floats, rise: float) -> Floats:
    """The level way from a bent edge to the axis of a flank that rolls along it: square to the edge where that is
    level, and downhill by as much as it climbs, so that the flank neither leaves the edge nor enters it farther on."""
    along = _unit(ways)
    lean = np.clip(rise * ways[:, 2] / np.hypot(*ways[:, :2].T), -STEEP, STEEP)[:, None]
    square = _unit(off - (off * along).sum(axis=1)[:, None] * along)
    return np.asarray(square * np.sqrt(1 - lean**2) - along * lean)


def _unit(vectors: Floats) -> Floats:
    """Their level parts (n, 2) as unit vectors."""
    return np.asarray(vectors[:, :2] / np.maximum(np.hypot(*vectors[:, :2].T), FLAT)[:, None])


def _spread(edges: Sequence[Edge]) -> Floats:
    """Points on edges, both ends among them."""
    return np.array([point_at(e, t) for e in edges for t in np.linspace(0, 1, int(length(e) / STEP) + 2)])
