"""Hollow faces with their lowest line or point within them, which a flat bottom bridges (setup's frame, mm).

Told by triangles: at the bottom of a trough such as meet there lean to opposite sides, along a fillet's foot they all
lean the same way.
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
    every, owner, lean = every[sound], owner[sound], across[sound, :2] / size[sound, None]
    place = _places(every, np.linalg.norm(lean, axis=1) < LEVEL)
    return frozenset(int(face) for face in np.unique(owner[_opposed(place, lean)]))


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
