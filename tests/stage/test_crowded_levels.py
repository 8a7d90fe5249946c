"""Levels whose borders nearly run together: one solid all the same, each a hair within the next one above."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from examples.shapes import volume
from schemas.base import Frame
from worker.kernel.planar import Region, disc, rectangle, subtract
from worker.kernel.shape import solids
from worker.stage.removal import levels
from worker.stage.removal.levels import Level

NEARLY = 2e-5
"""Borders so far (mm) apart are neither one nor two to the kernel."""


def _flattened(radius: float) -> Region:
    """A disc without what lies below y = -8."""
    return subtract(disc((0.0, 0.0), radius), [rectangle(-20.0, -20.0, 20.0, -8.0)])


def _area(radius: float) -> float:
    """The same by closed form: all but a segment of a circle."""
    half = math.acos(8 / radius)
    return math.pi * radius**2 - radius**2 * (half - math.sin(half) * math.cos(half))


def test_borders_a_hair_apart_are_kept_aside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(levels, "MOST_PAIRS", 0)
    radii = [10 + k * NEARLY for k in range(3)]
    found = tuple(Level(float(k), k + 1.0, _flattened(r), _flattened(r)) for k, r in enumerate(radii))
    (body,) = levels._upright(SimpleNamespace(frame=Frame()), found)  # type: ignore[arg-type]
    whole, border = sum(map(_area, radii)), 2 * math.pi * 10
    assert len(solids(body)) == 1
    assert 0 < whole - volume(body.wrapped) < (0 + 1 + 2) * levels.ASIDE * border
