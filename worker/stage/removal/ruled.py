"""Hollow cones about an upright axis as straight lines, for a tool that stands upright within (setup's frame, mm)."""

from __future__ import annotations

import math

import numpy as np

from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.planar_edge import Edge, Point2, angle_of
from worker.kernel.shadow import Shown, Skyline, concave_radius, flank_of
from worker.stage.removal.facets import Facets

APART = math.radians(1.5)
"""Angle from one line to the next: between two the cone lies within a thousandth of its radius of them."""


def ruled(sky: Skyline, shown: Shown) -> Facets | None:
    """The face as lines from its lower rim, or its tip, up to its upper one; None for any but a whole sector of a cone
    that widens upwards, between level rims."""
    lean, border = flank_of(sky.body, shown.index, sky.frame), sky.border(shown.index)
    rims = [edge for edge in border if edge.centre is not None]
    if shown.flat or lean is None or not rims or rims[0].centre is None:
        return None
    if concave_radius(sky.body, shown.index) is None:
        return None
    centre, outer = rims[0].centre, max(edge.radius for edge in rims)
    inner = outer - (shown.high - shown.low) * math.tan(math.radians(lean))
    upper = [edge for edge in rims if abs(edge.radius - outer) <= LENGTH]
    if inner < -LENGTH or not all(_fits(edge, centre, (max(inner, 0.0), outer)) for edge in border):
        return None
    ways = np.concatenate([_ways(edge, centre) for edge in upper])
    size = np.full(len(ways), outer - max(inner, 0.0))
    start = np.array(centre) + max(inner, 0.0) * ways
    gain = np.full(len(ways), (shown.high - shown.low) / size[0])
    return Facets(np.zeros((0, 3, 3)), start, np.full(len(ways), shown.low), ways, size, gain)


def _fits(edge: Edge, centre: Point2, radii: tuple[float, float]) -> bool:
    """Whether an edge is a rim or lies on a line through the axis."""
    if edge.centre is not None:
        return math.dist(edge.centre, centre) <= LENGTH and min(abs(edge.radius - r) for r in radii) <= LENGTH
    (ax, ay), (bx, by) = ((p[0] - centre[0], p[1] - centre[1]) for p in (edge.a, edge.b))
    return abs(ax * by - ay * bx) <= LENGTH * max(math.dist(edge.a, edge.b), COINCIDENT)


def _ways(edge: Edge, centre: Point2) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Ways (n, 2) from the axis to places of a rim."""
    count = max(math.ceil(abs(edge.sweep) / APART), 1) + 1
    angles = angle_of(centre, edge.a) + np.linspace(0.0, edge.sweep, count)
    return np.stack((np.cos(angles), np.sin(angles)), axis=1)
