"""Where round faces that lie or lean turn away from the spindle: their triangles' corners miss that line (mm).

Seen along the spindle such a face ends in its silhouette, and its chords up to their height inside it. All that is cut
beside the face goes down past it: over its length that is more than the chords leave off the face itself.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import COINCIDENT
from worker.field.fitted import Cylinder, cylinder_through
from worker.field.lines import Floats

TURNS = 0.02
"""Height of unit normals that a face has both up and down (of less it is an upright one)."""


def with_silhouettes(triangles: Floats, owner: NDArray[np.int32]) -> tuple[Floats, NDArray[np.int32]]:
    """The triangles (n, 3, 3; setup's frame) and the face of each, with more of cylinders that bulge: what of those
    across the silhouette looks up, on to where the cylinder itself turns away."""
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    looks = across[:, 2] / np.maximum(np.linalg.norm(across, axis=1), COINCIDENT**2)
    turning = np.intersect1d(owner[looks > TURNS], owner[looks < -TURNS])
    found, of = [triangles], [owner]
    for face in turning.tolist():
        mine = triangles[owner == face]
        cylinder = cylinder_through(mine)
        more = [] if cylinder is None else list(_onward(mine, across[owner == face], cylinder))
        if more:
            found.append(np.array(more))
            of.append(np.full(len(more), face, np.int32))
    return np.concatenate(found), np.concatenate(of)


def _onward(mine: Floats, normals: Floats, cylinder: Cylinder) -> Iterator[Floats]:
    axis, middle, radius = cylinder
    aside = np.cross(axis, (0.0, 0.0, 1.0))
    aside /= np.linalg.norm(aside)
    up = np.cross(aside, axis)
    off = mine.mean(axis=1) - middle
    if np.sum((off - np.outer(off @ axis, axis)) * normals) < 0:
        return  # hollow
    heights = (mine - middle) @ up
    for corners, high in zip(mine, heights, strict=True):
        if high.min() < -COINCIDENT and high.max() > COINCIDENT:
            yield from _upper(corners, high, (middle, aside, radius))


def _upper(corners: Floats, high: Floats, line: tuple[Floats, Floats, float]) -> Iterator[Floats]:
    """What of a triangle lies above the axis, its corners there moved out to the silhouette."""
    above = high > 0
    lone = int(np.argmax(above) if above.sum() == 1 else np.argmin(above))
    (a, b, c), (ha, hb, hc) = (np.roll(some, -lone, axis=0) for some in (corners, high))
    p, q = (_out(a + (end - a) * ha / (ha - h), *line) for end, h in ((b, hb), (c, hc)))
    yield from [np.stack((a, p, q))] if above[lone] else [np.stack((p, b, c)), np.stack((p, c, q))]


def _out(point: Floats, middle: Floats, aside: Floats, radius: float) -> Floats:
    off = float((point - middle) @ aside)
    return np.asarray(point + aside * (np.copysign(radius, off) - off), dtype=np.float64)
