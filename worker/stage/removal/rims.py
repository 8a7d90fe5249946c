"""The lower edges of chamfers, along which a pointed cutter runs with its flank on the chamfer (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, dot
from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.planar_edge import Edge, length, point_at
from worker.kernel.shadow import Shown, Skyline, face_facts, flank_of

Floats = NDArray[np.float64]
STEP = 0.25
"""Points along an edge are no further apart (mm): between two of them a round pin of 4 stands 4 um nearer at most."""
DOWNHILL = 0.5
"""A chamfer's lower side is left downhill: within this (cosine) of its line of steepest fall."""


@dataclass(frozen=True, eq=False)
class Rim:
    """One chamfer face: points (n, 2) of its lower edge, the ways off the metal there (n, 2), its heights, and how
    far it comes in from its lower to its upper edge. ``edges`` are the lower edge itself. Where that slopes, ``climb``
    (n,) is how much each point lies above the lowest, to which ``low`` and ``high`` belong."""

    points: Floats
    off: Floats
    low: float
    high: float
    width: float
    edges: tuple[Edge, ...]
    climb: Floats

    @property
    def level(self) -> bool:
        """Whether the lower edge is level."""
        return not self.climb.any()


def rims_of(sky: Skyline, frame: Frame, features: Sequence[Feature]) -> list[Rim]:
    """The lower edges of chamfers that look up, of flat ones also where they slope; other faces have none."""
    found = (rim_of(sky, frame, i) for i in _faces_up(sky, features))
    return [rim for rim in found if rim is not None]


def has_all_rims(sky: Skyline, frame: Frame, features: Sequence[Feature]) -> bool:
    """Whether every chamfer face that looks up has such an edge."""
    return all(rim_of(sky, frame, i) is not None for i in _faces_up(sky, features))


def _faces_up(sky: Skyline, features: Sequence[Feature]) -> list[int]:
    return [i for f in features if f.class_ == "chamfer" for i in f.faces if sky.shown[i].look == "up"]


def rim_of(sky: Skyline, frame: Frame, index: int) -> Rim | None:
    """The lower edge of one face; None where it has none of these kinds."""
    facts, slope = face_facts(sky.body)[index], flank_of(sky.body, index, frame)
    if slope is None:
        return None
    if facts.kind == "plane":
        return _straight(sky, frame, index, math.tan(math.radians(slope)))
    axis = facts.adaptor.Cone().Axis().Direction() if facts.kind == "cone" else None
    if axis is not None and abs(dot((axis.X(), axis.Y(), axis.Z()), frame.z)) > 1 - 1e-9:
        return _round(sky, frame, index, math.tan(math.radians(slope)))
    return None


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
    return Rim(points, np.broadcast_to(out, points.shape), low, low + width / rise, width, tuple(side), climb - low)


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
    width, climb = (shown.high - shown.low) * rise, np.zeros(len(points))
    return Rim(points, off(points), shown.low, shown.high, width, tuple(edges), climb)


def _spread(edges: Sequence[Edge]) -> Floats:
    """Points on edges, both ends among them."""
    return np.array([point_at(e, t) for e in edges for t in np.linspace(0, 1, int(length(e) / STEP) + 2)])
