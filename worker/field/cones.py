"""A pointed cutter over triangles: how high they stand over its underside, by closed forms (setup's frame, mm)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.lines import Floats

AT_ONCE = 2**21
"""Heights worked out in one go."""
STRAIGHT = 1e-12
"""Sides as steep as the cone are taken for less steep by this."""


@dataclass(frozen=True)
class Cone:
    """The cutter below its shank: radius at the tip, its growth per height, its largest; how high that is."""

    blunt: float
    rise: float
    radius: float

    @property
    def height(self) -> float:
        """From the tip to the largest radius."""
        return (self.radius - self.blunt) / self.rise

    def wide(self, over: float) -> float:
        """The radius so much over the tip."""
        return min(self.blunt + max(over, 0.0) * self.rise, self.radius)


def over_cone(cone: Cone, tip: float, triangles: Floats, places: Floats) -> Floats:
    """How high any triangle stands over the cone's underside within its radius, at each place (n,); -inf for none."""
    found = np.full(len(places), -np.inf)
    if not len(triangles):
        return found
    for few in np.array_split(np.arange(len(places)), len(places) * len(triangles) * 3 // AT_ONCE + 1):
        found[few] = np.maximum(_on_sides(cone, triangles, places[few]), _inside(cone, triangles, places[few])) - tip
    return found


def _under(cone: Cone, away: Floats) -> Floats:
    return np.asarray(np.maximum(away - cone.blunt, 0.0) / cone.rise)


def _on_sides(cone: Cone, triangles: Floats, places: Floats) -> Floats:
    """The greatest height over the underside on the triangles' sides: along each it rises to one place and falls."""
    a, b = triangles.reshape(-1, 3), np.roll(triangles, -1, axis=1).reshape(-1, 3)
    long = np.hypot(*(b - a)[:, :2].T)
    way = (b - a)[:, :2] / np.maximum(long, COINCIDENT)[:, None]
    a, gain = np.where(((long <= COINCIDENT) & (b[:, 2] > a[:, 2]))[:, None], b, a), (b - a)[:, 2]
    gain = np.where(long > COINCIDENT, gain / np.maximum(long, COINCIDENT), 0.0)
    long = np.where(long > COINCIDENT, long, 0.0)
    rel = places[:, None] - a[None, :, :2]
    foot = (rel * way).sum(axis=2)
    off = np.abs(rel[..., 0] * way[:, 1] - rel[..., 1] * way[:, 0])
    steep = gain * cone.rise
    lean = np.clip(steep, STRAIGHT - 1, 1 - STRAIGHT)
    best = off * lean / np.sqrt(1 - lean**2)
    flat = np.hypot(best, off) < cone.blunt
    best = np.where(flat, np.sign(gain) * np.sqrt(np.maximum(cone.blunt**2 - off**2, 0.0)), best)
    half = np.sqrt(np.maximum(cone.radius**2 - off**2, 0.0))
    low, high = np.maximum(foot - half, 0.0), np.minimum(foot + half, long)
    at = np.clip(foot + best, low, np.maximum(low, high))
    height = a[:, 2] + gain * at - _under(cone, np.hypot(at - foot, off))
    return np.asarray(np.where((off < cone.radius) & (low <= high), height, -np.inf).max(axis=1))


def _inside(cone: Cone, triangles: Floats, places: Floats) -> Floats:
    """The same within the triangles: straight uphill at the tip's edge, or of steep ones at the cone's."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    some = normal[:, 2] > COINCIDENT**2
    triangles, normal = triangles[some], normal[some]
    if not len(triangles):
        return np.full(len(places), -np.inf)
    slope = -normal[:, :2] / normal[:, 2:]
    steep = np.hypot(*slope.T)
    uphill = slope / np.maximum(steep, COINCIDENT)[:, None]
    radius = np.where(steep * cone.rise < 1, cone.blunt, cone.radius)
    at = places[:, None] + radius[:, None] * uphill
    corner, edge = triangles[..., :2], np.roll(triangles[..., :2], -1, axis=1) - triangles[..., :2]
    gap = at[:, :, None] - corner
    within = (edge[..., 0] * gap[..., 1] - edge[..., 1] * gap[..., 0] >= 0).all(axis=2)
    height = triangles[:, 0, 2] + ((at - triangles[:, 0, :2]) * slope).sum(axis=2) - _under(cone, radius)
    return np.asarray(np.where(within, height, -np.inf).max(axis=1))
