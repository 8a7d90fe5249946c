"""V-grooves by the planes of their leaning triangles (setup's frame, mm)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH
from worker.field.bound import by_face
from worker.field.lines import Floats, Mask
from worker.field.scene import UPRIGHT, Scene

FLAT = 1e-6
"""Unit normals of one plane differ by no more."""
AMONG = 33
"""Places along a groove whose ground is asked for."""


@dataclass(frozen=True)
class Plane:
    """A flank: it stands ``foot`` out from the origin at height 0 and ``lean`` more per height, from ``low`` to
    ``high``; ``out`` is its way out in plan, ``faces`` the part's numbers."""

    out: tuple[float, float]
    foot: float
    lean: float
    low: float
    high: float
    area: float
    face: int
    corners: Floats


Joint = Literal["free", "on", "turn"]
"""An end of its own, or where another stretch goes on: the same way, or turned."""


@dataclass(frozen=True)
class Groove:
    """Two sets of planes that face each other; ``out`` is the first one's way, ``way`` square to it, along.

    ``stretch``: from where to where it goes, where that is not all its planes'; ``others``: faces of what it goes on
    in. Round a ``circle`` (x, y, radius) the first ones are the outer; along is counter-clockwise, across the distance
    from the middle.
    """

    first: tuple[Plane, ...]
    second: tuple[Plane, ...]
    stretch: tuple[float, float] | None = None
    joints: tuple[Joint, Joint] = ("free", "free")
    others: frozenset[int] = frozenset()
    circle: tuple[float, float, float] | None = None

    @property
    def out(self) -> tuple[float, float]:
        """Across, towards the first."""
        return self.first[0].out

    @property
    def way(self) -> tuple[float, float]:
        """Along."""
        return self.out[1], -self.out[0]

    @property
    def planes(self) -> tuple[Plane, ...]:
        """All flanks."""
        return (*self.first, *self.second)

    @property
    def bottom(self) -> float:
        """The lowest height that both sides have."""
        return max(min(p.low for p in side) for side in (self.first, self.second))

    @property
    def top(self) -> float:
        """The highest height that both sides have."""
        return min(max(p.high for p in side) for side in (self.first, self.second))

    @property
    def ends(self) -> tuple[float, float]:
        """From where to where the flanks go, along."""
        if self.stretch is not None:
            return self.stretch
        along = np.concatenate([p.corners for p in self.planes])[:, :2] @ np.array(self.way)
        return float(along.min()), float(along.max())

    def place(self, t: float, v: float) -> tuple[float, float]:
        """x, y of so far along and across."""
        if self.circle is not None:
            x, y, radius = self.circle
            return x + v * math.cos(t / radius), y + v * math.sin(t / radius)
        (wx, wy), (ox, oy) = self.way, self.out
        return t * wx + v * ox, t * wy + v * oy

    def heading(self, t: float) -> tuple[float, float]:
        """The way at a place along."""
        if self.circle is None:
            return self.way
        return -math.sin(t / self.circle[2]), math.cos(t / self.circle[2])

    def foot_at(self, t: float) -> tuple[float, float]:
        """x, y half way between the flanks at the bottom."""
        one, other = (min(p.foot + self.bottom * p.lean for p in side) for side in (self.first, self.second))
        return self.place(t, (one - other) / 2)

    def reach(self, box: tuple[float, float, float, float], radius: float) -> tuple[float, float]:
        """From where to where a cutter is tried along: past the box; round a circle past where it leaves the flanks; at
        a joint just there."""
        x0, y0, x1, y1 = box
        way, (start, end) = self.way, self.ends
        corners = [x * way[0] + y * way[1] for x in (x0, x1) for y in (y0, y1)]
        first, last = min(corners) - 1.0, max(corners) + 1.0
        if self.circle is not None:
            past = min(2 * radius + 1.0, (2 * math.pi * self.circle[2] - (end - start)) / 2)
            first, last = start - past, end + past
        return (first if self.joints[0] == "free" else start), (last if self.joints[1] == "free" else end)


def planes_of(scene: Scene, feature: Feature) -> list[Plane]:
    """The feature's flat faces that lean and look up."""
    mine = np.flatnonzero(scene.of(feature) & (scene.looks > UPRIGHT) & (scene.looks < 1 - COINCIDENT))
    return [p for _, own in by_face(scene.owner[mine]) if (p := _plane(scene, mine[own])) is not None]


def facing_planes(a: Plane, b: Plane) -> bool:
    """True for planes that lean opposite ways."""
    return math.pi - _turned(a.out, b.out) <= math.radians(ANGLE)


def groove_of(scene: Scene, feature: Feature) -> Groove | None:
    """The groove between the feature's planes; None where no two face each other along a level line, or several do."""
    sides: list[list[Plane]] = []
    for plane in planes_of(scene, feature):
        home = next((s for s in sides if _turned(s[0].out, plane.out) <= math.radians(ANGLE)), None)
        sides.append([plane]) if home is None else home.append(plane)
    facing = [
        (a, b) for a in sides for b in sides
        if a[0].out > b[0].out and facing_planes(a[0], b[0])
    ]  # fmt: skip
    sizes = [min(sum(p.area for p in side) for side in pair) for pair in facing]
    if not facing or sum(2 * size > max(sizes) for size in sizes) > 1:
        return None
    a, b = facing[int(np.argmax(sizes))]
    found = Groove(tuple(a), tuple(b))
    gap = sum(min(p.foot + found.bottom * p.lean for p in side) for side in (a, b))
    return found if gap >= -LENGTH else None


def _turned(a: tuple[float, float], b: tuple[float, float]) -> float:
    """The angle between two ways."""
    return abs(math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1]))


def _plane(scene: Scene, own: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> Plane | None:
    corners = scene.part[own]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(across, axis=1)
    normals = across[size > COINCIDENT**2] / size[size > COINCIDENT**2][:, None]
    if not len(normals) or np.ptp(normals, axis=0).max() > FLAT:
        return None
    x, y, z = across.sum(axis=0) / np.linalg.norm(across.sum(axis=0))
    level = math.hypot(x, y)
    out, lean = np.array((-x / level, -y / level)), float(z / level)
    foot = float(np.mean(corners[..., :2] @ out - corners[..., 2] * lean))
    zs = corners[..., 2]
    area = float(np.abs(across[:, 2]).sum()) / 2
    return Plane((float(out[0]), float(out[1])), foot, lean, float(zs.min()), float(zs.max()), area,
                 int(scene.owner[own[0]]), corners.reshape(-1, 3))  # fmt: skip


def floor_of(scene: Scene, groove: Groove, depth: float) -> float:
    """What a tip may not go below: the flanks' meeting, or the highest triangle under the middle and below."""
    edges = [min(p.foot + groove.bottom * p.lean for p in side) for side in (groove.first, groove.second)]
    if sum(edges) <= LENGTH:
        return groove.bottom
    ts = np.linspace(*groove.ends, AMONG + 2)[1:-1].tolist()
    across = (edges[0] - LENGTH, (edges[0] - edges[1]) / 2, LENGTH - edges[1])
    places = np.array([groove.place(t, v) for t in ts for v in across])
    low = (scene.part[..., 2].max(axis=1) <= groove.bottom + LENGTH) & (scene.looks > UPRIGHT)
    low &= ~scene.of_faces({p.face for p in groove.planes})
    tall = scene.part[low]
    held = np.array([bool(_holds(one[:, :2], places).any()) for one in tall], bool)
    return float(tall[held][..., 2].max()) if held.any() else groove.bottom - depth


def _holds(corners: Floats, places: Floats) -> Mask:
    """Which places lie in a triangle seen from above, counter-clockwise."""
    a, b = corners, np.roll(corners, -1, axis=0)
    gap = places[:, None] - a
    turn = (b - a)[:, 0] * gap[..., 1] - (b - a)[:, 1] * gap[..., 0]
    return np.asarray((turn >= -COINCIDENT).all(axis=1))
