"""Travel that the cuts need: round an outline the tool's centre stays a radius outside the part on both sides."""

from __future__ import annotations

import pytest

from tests.support.block import Json, sound, step_of, told
from tests.support.plans import applied

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


def test_a_part_that_fits_the_other_way_is_turned_and_a_larger_machine_named_else() -> None:
    """72 by 52 on a table of 60 by 80, and on one of 60 by 60."""
    for y, pointer, value in ((80.0, "/setups/0/origin/ref_direction", None), (60.0, "/machine/travel/0", 72.0)):
        (found,) = told(_on(60.0, y))
        assert found.remedy is not None and found.remedy.pointer == pointer
        assert found.remedy.value == (value if value is None else pytest.approx(value, abs=1e-6))
        assert found.at is not None


def test_a_tap_that_feeds_too_fast_is_to_turn_more_slowly() -> None:
    """M6 feeds 1 mm a turn (ISO 261)."""
    document = sound() | {"machine": {"max_feed": 500}}
    step_of(document, "120")["technology"] = {"spindle_speed": 800}
    (found,) = [f for f in told(document) if f.workingstep == "120"]
    assert (found.code, found.measured) == ("machine.speed", pytest.approx(800))
    assert found.remedy is not None and found.remedy.value == pytest.approx(500) and found.remedy.unit == "1/min"


def test_a_taps_feed_is_its_pitch_or_a_little_less() -> None:
    """M6 coarse: 1 mm (ISO 261)."""
    for fed, told_so in ((1.0, False), (0.95, False), (1.25, True)):
        document = sound()
        step_of(document, "120")["technology"] = {"feed_per_rev": fed}
        found = told(document)
        assert [(f.code, f.workingstep) for f in found] == ([("fit.lead", "120")] if told_so else [])
        if told_so:
            assert told(applied(document, found[0].remedy)) == []
