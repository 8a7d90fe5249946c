"""A solid's triangles with a gap tell nothing line by line: the volumes are compared then."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

import worker.field
from examples import shapes
from tests.support.trial import inputs, plan, raw_box, setup, stages_of, step, tool
from worker.field import second_opinion
from worker.field.closer import has_gaps
from worker.field.lines import Floats

SLOTTED = shapes.cut(shapes.box((0, 0, 0), (40, 30, 20)), shapes.box((-1, 10, 12), (41, 20, 21)))
MILL = tool("endmill", 8)


def corner(size: float) -> Floats:
    """A right-angled corner of that size: three faces along the axes and the slanted one."""
    o, x, y, z = np.zeros(3), *(size * np.eye(3))
    return np.array([[o, y, x], [o, x, z], [o, z, y], [x, y, z]])


def test_what_a_closed_skin_lacks() -> None:
    """Without its slanted face, sqrt(3) / 2 s2, lines may see that times the skin's diagonal, sqrt(3) s, of metal."""
    whole, lacking = corner(2.0), corner(2.0)[:3]
    most = math.sqrt(3) / 2 * 4 * math.sqrt(3) * 2
    assert not has_gaps(whole, 1e-9)
    assert has_gaps(lacking, most - 1e-6) and not has_gaps(lacking, most + 1e-6)


@pytest.mark.parametrize(("gap", "chords"), [(False, 0), (True, 1), (True, 2)])
def test_a_gap_makes_no_disagreement(gap: bool, chords: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The top of the block is left out of the triangles that lines are compared by, with so many lengths of chords."""
    document = plan(
        raw_box((0, 0, 0), (40, 30, 20)),
        setup([step("bottom_and_side_finish_milling", MILL, {"class": "slot"})]),
    )
    found = stages_of(SLOTTED, document)
    monkeypatch.setattr(worker.field, "SUSPECT", -1.0)  # always looked at line by line
    anew: Callable[..., tuple[Floats, np.ndarray]] = worker.field.Triangles.anew

    def lacking(self: worker.field.Triangles, body: object, chord: float) -> tuple[Floats, np.ndarray]:
        triangles, owner = anew(self, body, chord)
        closely = gap and chord in worker.field.CLOSE_CHORDS[:chords]
        kept = triangles[:, :, 2].min(axis=1) < 20 - 1e-6 if closely else np.ones(len(triangles), bool)
        return triangles[kept], owner[kept]

    monkeypatch.setattr(worker.field.Triangles, "anew", lacking)
    (opinion,) = second_opinion(inputs(SLOTTED, document).plan, inputs(SLOTTED, document).part, found)
    assert opinion.agrees
    assert ("line by line" in opinion.method) is (chords < 2)
