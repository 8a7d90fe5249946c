"""Travel that the cuts need: round an outline the tool's centre stays a radius outside the part on both sides."""

from __future__ import annotations

import pytest

from tests.support.block import Json, sound, told

LONG, WIDE, CUTTER = 60.0, 40.0, 12.0  # the block, and the end mill that goes round it


def _on(x: float, y: float) -> Json:
    return sound() | {"machine": {"travel": [x, y, 400]}}


def test_a_table_as_long_as_the_way_round_the_part_will_do() -> None:
    assert told(_on(LONG + CUTTER + 0.05, WIDE + CUTTER + 0.05)) == []


@pytest.mark.parametrize(
    ("x", "y", "axis", "needed"),
    [(LONG + CUTTER - 1, 400.0, "X", LONG + CUTTER), (400.0, WIDE + CUTTER - 1, "Y", WIDE + CUTTER)],
)
def test_a_shorter_one_stops_the_program(x: float, y: float, axis: str, needed: float) -> None:
    found = told(_on(x, y))
    assert [(f.code, f.setup) for f in found] == [("machine.travel", "S1")]
    assert found[0].measured == pytest.approx(needed, abs=1e-6)
    assert f" along {axis};" in found[0].message
