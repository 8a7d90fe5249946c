"""Hollow faces with their lowest line or point within them, which a flat bottom bridges (setup's frame, mm).

Told by triangles: at the bottom of a trough such as meet there lean to opposite sides, along a fillet's foot they all
lean the same way. Where the bottom line falls they all lean down along it as well: of faces that run straight along a
line only how they lean across it is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import COINCIDENT
from worker.field.lines import Floats

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
LEVEL = 1e-4
"""A triangle that leans less (sine) is a chord across a bottom: its corners are one place."""
STRAIGHT = 1e-3
"""Normals lie on one circle when they are no farther off it, as a share of how far it bends."""
STEEPEST = 0.5
"""A floor that falls to the fillet at its lower end leans by no more (sine)."""
OPPOSITE = -0.9
"""Cosine between the ways that two triangles lean: fillets meet in corners down to 26 degrees."""


def bridged(faces: Mapping[int, Floats]) -> frozenset[int]:
    """The faces (their triangles: n, 3, 3) that meet in the bottom of a trough, be it one face or several."""
    if not faces:
        return frozenset()
    owner = np.repeat(list(faces), [len(triangles) for triangles in faces.values()])
    every = np.concatenate(list(faces.values()))
    across = np.cross(every[:, 1] - every[:, 0], every[:, 2] - every[:, 0])
    size = np.linalg.norm(across, axis=1)
    sound = size > COINCIDENT**1.5
    every, owner, normal = every[sound], owner[sound], across[sound] / size[sound, None]
    lean = np.zeros((len(normal), 2))
    for face in faces:
        lean[owner == face] = _across(normal[owner == face])
    place = _places(every, np.linalg.norm(lean, axis=1) < LEVEL)
    return frozenset(int(face) for face in np.unique(owner[_opposed(place, lean)]))


def leaning(faces: Mapping[int, Floats]) -> bool:
    """Whether all faces (their triangles: n, 3, 3) that meet in a bottom, taken together, rise to its one side a little
    alone: a floor that falls to the fillet at its lower end."""
    every = np.concatenate(list(faces.values()))
    across = np.cross(every[:, 1] - every[:, 0], every[:, 2] - every[:, 0])
    size = np.linalg.norm(across, axis=1)
    lean = across[size > COINCIDENT**1.5, :2] / size[size > COINCIDENT**1.5, None]
    way = (across[:, :2]).sum(axis=0)
    return bool(np.max(-(lean @ way)) <= STEEPEST * np.linalg.norm(way))


def _across(normal: Floats) -> Floats:
    """How triangles with these unit normals (n, 3) lean; of a cylinder or a cone that lies, across its line alone."""
    lean = normal[:, :2]
    for seen in (normal, normal - normal.mean(axis=0)):
        _, sizes, ways = np.linalg.svd(seen, full_matrices=False) if len(seen) > 2 else (0, np.zeros(3), np.eye(3))
        along = ways[2, :2]
        level = float(np.hypot(*along))
        if sizes[2] < STRAIGHT * sizes[1] and level > STRAIGHT:
            return np.asarray(lean - np.outer(lean @ along, along) / level**2)
    return lean


def _places(triangles: Floats, level: Bools) -> Ints:
    """The number of the place (n, 3) that each corner lies at; the corners of level triangles are one place."""
    corners = np.round(triangles.reshape(-1, 3) / COINCIDENT).astype(np.int64)
    number = np.unique(corners, axis=0, return_inverse=True)[1].reshape(-1, 3)
    label, tied = np.arange(int(number.max()) + 1), number[level]
    while (label[tied] != label[tied].min(axis=1, keepdims=True)).any():
        np.minimum.at(label, tied, np.broadcast_to(label[tied].min(axis=1, keepdims=True), tied.shape))
    return label[number]


def _opposed(place: Ints, lean: Floats) -> Bools:
    """Which triangles lean the opposite way to another one at the same place."""
    found = np.zeros(len(lean), bool)
    length = np.linalg.norm(lean, axis=1)
    ways = lean / np.maximum(length, LEVEL)[:, None]
    tilted = length >= LEVEL
    at, who = place[tilted].ravel(), np.repeat(np.flatnonzero(tilted), 3)
    order = np.argsort(at, kind="stable")
    ends = np.flatnonzero(np.diff(at[order], append=-1)) + 1
    for some in np.split(who[order], ends[:-1]):
        against = ways[some] @ ways[some].T < OPPOSITE
        found[some[against.any(axis=1)]] = True
    return found
