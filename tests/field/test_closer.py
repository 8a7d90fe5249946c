"""A field held to a solid line by line, band after band, where each line meets many hollows: what only one has."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

import worker.field.closer
from worker.field.closer import compare
from worker.field.field import Field, Mesh, fill
from worker.field.lattice import Lattice, make_lattice
from worker.field.lines import Floats

MANY, PITCH, HIGH = 10, 3.0, 4.0
"""Hollows of 1 x 1 x 2 in rows and columns, in a plate that is 4 high."""


def _block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Floats:
    """A closed block's twelve triangles, outward."""
    ends = low, high
    corners = np.array([(ends[i][0], ends[j][1], ends[k][2]) for k in (0, 1) for j in (0, 1) for i in (0, 1)])
    faces = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    return np.array([corners[list(t)] for a, b, c, d in faces for t in ((a, b, c), (a, c, d))])


def _hollows(but: tuple[int, int]) -> list[Floats]:
    """All hollows but one."""
    places = [(PITCH * i + 1, PITCH * j + 1) for i in range(MANY) for j in range(MANY) if (i, j) != but]
    return [_block((x, y, 1), (x + 1, y + 1, 3)) for x, y in places]


def _plate() -> Floats:
    return _block((0, 0, 0), (PITCH * MANY, PITCH * MANY, HIGH))


@cache
def _lattice() -> Lattice:
    planes = [PITCH * i + 1 + k for i in range(MANY) for k in (0, 1)]
    return make_lattice(np.zeros(3), np.array([PITCH * MANY, PITCH * MANY, HIGH]), (planes, planes, [1, 3]), 0.25)


def _field(but: tuple[int, int]) -> Field:
    found = fill(_lattice(), [Mesh(_plate())])
    found.cut([Mesh(one) for one in _hollows(but)])
    return found


def _solid(but: tuple[int, int]) -> Floats:
    """The plate's skin, and that of each hollow, which looks inward."""
    return np.concatenate([_plate(), *(one[:, ::-1] for one in _hollows(but))])


@pytest.mark.parametrize("full", [(0, 0), (4, 7), (9, 9)])
def test_a_hollow_that_only_one_has_is_told_with_its_volume(
    full: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """1 x 1 x 2 each, wherever bands of lines begin and end: the field has metal at one place, the solid at another."""
    monkeypatch.setattr(worker.field.closer, "BAND", 512)  # so many that bands begin and end within hollows
    found = compare(_field(full), _solid((5, 5)))
    assert found.field_only == pytest.approx(2.0, rel=1e-9) and found.solid_only == pytest.approx(2.0, rel=1e-9)
    assert compare(_field(full), _solid(full)).most == 0.0
