"""What lies within a radius of line segments, against the distance of points from them (school geometry)."""

from __future__ import annotations

import numpy as np

from worker.field.plane import beads

SIDES = np.array([[[0, 0], [9, 4]], [[-6, 2], [-6, 8]], [[-3, -7], [5, -7]], [[1, 9], [1, 9]]], dtype=float)
"""Aslant, along both kinds of lines, and a point."""
RADIUS = 1.5


def _away(points: np.ndarray, side: np.ndarray) -> np.ndarray:
    a, way = side[0], side[1] - side[0]
    share = np.clip((points - a) @ way / max(float(way @ way), 1e-30), 0.0, 1.0)
    return np.hypot(*(points - a - share[:, None] * way).T)


def test_stretches_are_what_is_near_some_segment() -> None:
    at, places = np.arange(-11, 12, 0.37), np.arange(-12, 13, 0.13)
    for along in (0, 1):
        found = beads(SIDES, RADIUS, along, at)
        held = np.zeros((len(at), len(places)), dtype=bool)
        for line, start, stop in zip(found.line, found.start, found.stop, strict=True):
            held[line] |= (places > start) & (places < stop)
        x, y = np.meshgrid(places, at)
        points = np.stack((x, y) if along == 0 else (y, x), axis=-1).reshape(-1, 2)
        away = np.min([_away(points, side) for side in SIDES], axis=0).reshape(held.shape)
        assert np.array_equal(held, away < RADIUS)
