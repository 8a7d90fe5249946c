"""Flat chamfers as strips between two long sides, along which a pointed cutter runs (setup's frame, mm)."""

from __future__ import annotations

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.lines import Floats
from worker.field.solids import bare_sides

DOWNHILL = 0.5
"""Cosine between the way out over a strip's lower side and its steepest fall at least."""
FLAT = 1e-6
"""A strip's triangles stand one way within this (of their unit normals)."""
SAME_WAY = 1 - 1e-6


def strip(faces: Floats) -> tuple[float, float] | None:
    """Height of the lowest end of a strip's lower side, and how high the strip reaches up from there along its steepest
    fall: all that lies on a flank whose tip climbs along. None for faces that are no such strip: what is not flat, and
    what is left downhill nowhere."""
    across = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    size = np.linalg.norm(across, axis=1)
    normals = across[size > COINCIDENT**2] / size[size > COINCIDENT**2][:, None]
    if not len(normals) or np.ptp(normals, axis=0).max() > FLAT or np.hypot(*normals[0, :2]) < FLAT:
        return None
    out, fall = normals[0, :2] / np.hypot(*normals[0, :2]), np.hypot(*normals[0, :2]) / normals[0, 2]
    sides = bare_sides(faces)
    way = (sides[:, 1] - sides[:, 0])[:, :2]
    length = np.hypot(*way.T)
    beside = np.stack((way[:, 1], -way[:, 0]), axis=1) / np.maximum(length, COINCIDENT)[:, None]
    downhill = np.flatnonzero(beside @ out > DOWNHILL)
    if not len(downhill):
        return None
    longest = downhill[np.argmax(length[downhill])]
    side = downhill[beside[downhill] @ beside[longest] > SAME_WAY]
    gap = (sides[longest, 0, :2] - faces[:, :, :2].reshape(-1, 2)) @ beside[longest]
    low = float(sides[side][:, :, 2].min())
    return low, low + float(gap.max() / (out @ beside[longest]) * fall)
