"""Tap drills of handbook charts pass; drills outside the minor-diameter limits do not."""

from __future__ import annotations

import pytest

from schemas.threads import parse_thread
from worker.checks.fit._chart import chart_drill, coarse_thread_for, suits
from worker.checks.fit.tap_drill import tap_drill

OVER = next(limit.default for limit in tap_drill.limits if limit.name == "tap_drill_over")

UNIFIED = {
    "#2-56 UNC": 0.0700,
    "#4-40 UNC": 0.0890,
    "#6-32 UNC": 0.1065,
    "#8-32 UNC": 0.1360,
    "#10-24 UNC": 0.1495,
    "#10-32 UNF": 0.1590,
    "1/4-20 UNC": 0.2010,
    "1/4-28 UNF": 0.2130,
    "5/16-18 UNC": 0.2570,
    "5/16-24 UNF": 0.2720,
    "3/8-16 UNC": 0.3125,
    "3/8-24 UNF": 0.3320,
    "7/16-14 UNC": 0.3680,
    "7/16-20 UNF": 0.3906,
    "1/2-13 UNC": 0.4219,
    "1/2-20 UNF": 0.4531,
    "9/16-12 UNC": 0.4844,
    "9/16-18 UNF": 0.5156,
    "5/8-11 UNC": 0.5312,
    "5/8-18 UNF": 0.5781,
    "3/4-10 UNC": 0.6562,
    "3/4-16 UNF": 0.6875,
    "7/8-9 UNC": 0.7656,
    "7/8-14 UNF": 0.8125,
    "1-8 UNC": 0.8750,
    "1-12 UNF": 0.9219,
}
"""Drill in inch; a tool maker's chart of Unified tap drills."""

METRIC = {
    "M3": 2.5,
    "M4": 3.3,
    "M5": 4.2,
    "M6": 5.0,
    "M8": 6.8,
    "M10": 8.5,
    "M12": 10.2,
    "M14": 12.0,
    "M16": 14.0,
    "M18": 15.5,
    "M20": 17.5,
    "M22": 19.5,
    "M24": 21.0,
}
"""Drill in mm; ISO 2306 as three charts of the trade print it."""


@pytest.mark.parametrize(("name", "inch"), UNIFIED.items())
def test_a_chart_drill_for_a_unified_thread_is_never_flagged(name: str, inch: float) -> None:
    assert suits(parse_thread(name), inch * 25.4, OVER)


@pytest.mark.parametrize(("name", "drill"), METRIC.items())
def test_a_chart_drill_for_a_coarse_thread_is_never_flagged_and_is_what_is_advised(name: str, drill: float) -> None:
    assert suits(parse_thread(name), drill, OVER)
    assert chart_drill(parse_thread(name)) == drill


def test_the_allowance_is_needed_by_two_chart_drills() -> None:
    """9/16-18 with 33/64 and 5/8-18 with 37/64 lie 0.0006 in over the basic 2B maximum."""
    for name, inch in (("9/16-18 UNF", 33 / 64), ("5/8-18 UNF", 37 / 64)):
        over = inch * 25.4 - parse_thread(name).minor_max
        assert 0.0005 * 25.4 < over < 0.0007 * 25.4
        assert not suits(parse_thread(name), inch * 25.4, 0.0)


@pytest.mark.parametrize(
    ("name", "drill"),
    [
        ("M22x2.5", 18.5),  # a published table has this wrong row: below the 6H minimum of 19.294
        ("M21x2", 18.0),  # and this one
        ("M6", 5.3),
        ("M6", 4.8),
        ("M10", 9.0),  # 50 % of thread: over the 6H maximum of 8.676
        ("1/2-13 UNC", 0.40625 * 25.4),  # 13/32, one step too small
        ("1/2-13 UNC", 0.453125 * 25.4),  # 29/64 belongs to 1/2-20
    ],
)
def test_a_wrong_drill_is_outside(name: str, drill: float) -> None:
    assert not suits(parse_thread(name), drill, OVER)


@pytest.mark.parametrize(("name", "inch"), UNIFIED.items())
def test_advice_for_unified_threads_lies_inside_the_limits(name: str, inch: float) -> None:
    thread = parse_thread(name)
    advised = chart_drill(thread)
    assert thread.minor <= advised <= thread.minor_max
    assert abs(advised - inch * 25.4) < 0.25 * thread.pitch


def test_the_half_inch_thread_is_drilled_27_64() -> None:
    assert chart_drill(parse_thread("1/2-13 UNC")) == pytest.approx(27 / 64 * 25.4, abs=1e-6)


def test_the_thread_of_a_modelled_hole() -> None:
    assert coarse_thread_for(5.0) == "M6"
    assert coarse_thread_for(10.106) == "M12"
    assert coarse_thread_for(7.5) is None
