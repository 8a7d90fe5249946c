"""What judges a boolean is worked out once for a body that is held to one tool after the other."""

from __future__ import annotations

import pytest

from worker.kernel import boolean, measure, primitives, probe


def test_a_plate_is_asked_for_its_points_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Six pegs into a plate of 20 blind holes, one after the other: of each of its 46 faces one inner point, and of
    each peg's and each common's few; a peg of 1 x 1 takes 2 mm3."""
    holes = [primitives.cylinder((5 + 10 * n, 5, 4), (5 + 10 * n, 5, 11), 4) for n in range(20)]
    plate = boolean.cut(primitives.box((0, 0, 0), (200, 10, 10)), holes)
    asked: list[int] = []
    point = probe._inner_point
    monkeypatch.setattr(probe, "_inner_point", lambda face: asked.append(1) or point(face))
    for n in range(6):
        peg = primitives.box((10 * n + 9.5, 4.5, 8), (10 * n + 10.5, 5.5, 12))
        assert measure.volume(boolean.common(plate, [peg])) == pytest.approx(2.0, rel=1e-9)
    assert len(asked) <= 46 + 6 * (6 + 6)
