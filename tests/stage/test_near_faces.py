"""Each face beside a chamfering cutter's way is held to the places of the way that it lies near, and to no others."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from schemas.base import Frame
from worker.kernel import boolean, primitives
from worker.kernel.shadow import Skyline
from worker.stage.removal import edges
from worker.stage.removal.rims import Rim
from worker.stage.removal.slants import Flank

FLANK = Flank(1.0, 1.0, 6.0)


def test_a_stud_beside_one_end_of_a_long_edge(monkeypatch: pytest.MonkeyPatch) -> None:
    """A stud of 4 x 4, its near side 3 mm off an edge of 100 mm: a cutter of 12 mm whose tip stands 1 mm below the edge
    is as wide as it gets at its top, its axis 2 mm off the edge: it reaches 6 - (3 - 2) = 5 mm into it (by hand), from
    no more of the way than lies within its radius of the stud."""
    stud = primitives.box((2.0, -7.0, 0.0), (6.0, -3.0, 30.0))
    sky = Skyline(boolean.fuse([primitives.box((0, 0, 0), (100, 20, 11)), stud]), Frame())
    points = np.column_stack([np.linspace(0, 100, 401), np.zeros(401)])
    one = np.ones(401)
    rim = Rim(points, np.tile((0.0, -1.0), (401, 1)), 10.0, one, one, (), 0 * one)
    looked: list[tuple[float, int]] = []
    met = edges.met

    def listening(flank: Flank, sky: Skyline, shown: Any, points: np.ndarray, *rest: Any) -> Any:
        looked.append((shown.high, len(points)))
        return met(flank, sky, shown, points, *rest)

    monkeypatch.setattr(edges, "met", listening)
    hit = edges.worst(FLANK, [rim], 9.0, [sky])
    assert hit.over == pytest.approx(5.0, abs=1e-6) and hit.top == pytest.approx(30.0)
    assert 2 - 1e-9 <= hit.at[0] <= 6 + 1e-9
    (count,) = (count for high, count in looked if high == pytest.approx(30))
    assert 17 <= count <= (2 * (6.2 + 0.3) + 4) / 0.25  # the box of a face is taken a twentieth wider
