"""Flat chamfers as strips between two long sides, along which a pointed cutter runs (setup's frame, mm)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.lines import Floats
from worker.field.solids import bare_sides

DOWNHILL = 0.5
"""Cosine between the way out over a strip's lower side and its steepest fall at least."""
FLAT = 1e-6
"""A strip's triangles stand one way within this (of their unit normals)."""
SAME_WAY = 1 - 1e-6


@dataclass(frozen=True, eq=False)
class Strip:
    """The lowest point (3,) of its lower side and the side's way (3,), 1 long seen from above; the way (2,) of its
    steepest fall, how much it falls in 1, and how wide it is that way, seen from above."""

    foot: Floats
    way: Floats
    out: Floats
    fall: float
    width: float

    @property
    def band(self) -> tuple[float, float]:
        """Height of its lowest point, and how high it reaches from there: all that a flank whose tip climbs lies on."""
        return float(self.foot[2]), float(self.foot[2]) + self.width * self.fall

    def on_flank(self, faces: Floats, half: float) -> Floats | None:
        """Triangles brought up to a flank that stands ``half`` degrees off the axis and runs along the strip, touching
        its upper side or its lower one; None where it climbs more than that flank could."""
        lean, rise, along = math.radians(half), float(self.way[2]), self.way[:2]
        level = math.cos(lean) ** 2 - (math.sin(lean) * rise) ** 2
        if level < -COINCIDENT:
            return None
        across = self.out - (self.out @ along) * along
        normal = math.sqrt(max(level, 0.0)) * across / np.linalg.norm(across) - math.sin(lean) * rise * along
        upper = half > math.degrees(math.atan2(1.0, self.fall))
        shift = self.width if upper else 0.0
        touched = self.foot + shift * np.array((-self.out[0], -self.out[1], self.fall))
        found = faces.copy()
        found[:, :, 2] = touched[2] - (faces[:, :, :2] - touched[:2]) @ normal / math.sin(lean)
        return found


def strip(faces: Floats) -> Strip | None:
    """The strip that triangles (n, 3, 3) are; None for what is not flat, and what is left downhill nowhere."""
    across = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    size = np.linalg.norm(across, axis=1)
    normals = across[size > COINCIDENT**2] / size[size > COINCIDENT**2][:, None]
    if not len(normals) or np.ptp(normals, axis=0).max() > FLAT or np.hypot(*normals[0, :2]) < FLAT:
        return None
    out, fall = normals[0, :2] / np.hypot(*normals[0, :2]), float(np.hypot(*normals[0, :2]) / normals[0, 2])
    sides = bare_sides(faces)
    way = sides[:, 1] - sides[:, 0]
    length = np.maximum(np.hypot(*way[:, :2].T), COINCIDENT)
    beside = np.stack((way[:, 1], -way[:, 0]), axis=1) / length[:, None]
    downhill = np.flatnonzero(beside @ out > DOWNHILL)
    if not len(downhill):
        return None
    longest = downhill[np.argmax(length[downhill])]
    side = sides[downhill[beside[downhill] @ beside[longest] > SAME_WAY]].reshape(-1, 3)
    gap = (sides[longest, 0, :2] - faces[:, :, :2].reshape(-1, 2)) @ beside[longest]
    width = float(gap.max() / (out @ beside[longest]))
    return Strip(side[np.argmin(side[:, 2])], way[longest] / length[longest], out, fall, width)
