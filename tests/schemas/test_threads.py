"""Threads against printed tables: tap drills, minor-diameter limits, point lengths, countersink depths.

Values that no test can rebuild from the product's own formulas; where each was read stands beside its table.
"""

from __future__ import annotations

import math

import pytest

from schemas.thread_series import same_thread, standard_threads, thread_in_name, thread_named
from schemas.threads import parse_thread
from schemas.tool import Tool

INCH = 25.4
OVER_2B = {"9/16-18 UNF", "5/8-18 UNF"}
"""The chart's own drill is 0.0006 in over the basic 2B maximum for these two."""

# Unified: thread, drill's name, drill (in), minor diameter 2B min and max (in).
# Drills: a tool maker's chart "Tap Drill Sizes, Unified". Limits: number sizes from a chart "Unified screw threads
# class 2A & 2B"; fractional sizes computed from ASME B1.1's formula as remembered.
UNIFIED = [
    ("#0-80 UNF", "3/64", 0.046875, 0.0465, 0.0514),
    ("#1-64 UNC", "#53", 0.0595, 0.0561, 0.0623),
    ("#1-72 UNF", "#53", 0.0595, 0.058, 0.0635),
    ("#2-56 UNC", "#50", 0.07, 0.0667, 0.0737),
    ("#2-64 UNF", "#50", 0.07, 0.0691, 0.0753),
    ("#3-48 UNC", "#47", 0.0785, 0.0764, 0.0845),
    ("#3-56 UNF", "#45", 0.082, 0.0797, 0.0865),
    ("#4-40 UNC", "#43", 0.089, 0.0849, 0.0939),
    ("#4-48 UNF", "#42", 0.0935, 0.0894, 0.0968),
    ("#5-40 UNC", "#38", 0.1015, 0.0979, 0.1062),
    ("#5-44 UNF", "#37", 0.104, 0.1004, 0.1079),
    ("#6-32 UNC", "#36", 0.1065, 0.104, 0.114),
    ("#6-40 UNF", "#33", 0.113, 0.111, 0.119),
    ("#8-32 UNC", "#29", 0.136, 0.13, 0.139),
    ("#8-36 UNF", "#29", 0.136, 0.134, 0.142),
    ("#10-24 UNC", "#25", 0.1495, 0.145, 0.156),
    ("#10-32 UNF", "#21", 0.159, 0.156, 0.164),
    ("#12-24 UNC", "#16", 0.177, 0.171, 0.181),
    ("#12-28 UNF", "#14", 0.182, 0.177, 0.186),
    ("1/4-20 UNC", "#7", 0.201, 0.1959, 0.2074),
    ("1/4-28 UNF", "#3", 0.213, 0.2113, 0.2198),
    ("5/16-18 UNC", "F", 0.257, 0.2524, 0.265),
    ("5/16-24 UNF", "I", 0.272, 0.2674, 0.2771),
    ("3/8-16 UNC", "5/16", 0.3125, 0.3073, 0.3214),
    ("3/8-24 UNF", "Q", 0.332, 0.3299, 0.3396),
    ("7/16-14 UNC", "U", 0.368, 0.3602, 0.376),
    ("7/16-20 UNF", "25/64", 0.390625, 0.3834, 0.3949),
    ("1/2-13 UNC", "27/64", 0.421875, 0.4167, 0.4336),
    ("1/2-20 UNF", "29/64", 0.453125, 0.4459, 0.4574),
    ("9/16-12 UNC", "31/64", 0.484375, 0.4723, 0.4903),
    ("9/16-18 UNF", "33/64", 0.515625, 0.5024, 0.515),
    ("5/8-11 UNC", "17/32", 0.53125, 0.5266, 0.546),
    ("5/8-18 UNF", "37/64", 0.578125, 0.5649, 0.5775),
    ("3/4-10 UNC", "21/32", 0.65625, 0.6417, 0.6627),
    ("3/4-16 UNF", "11/16", 0.6875, 0.6823, 0.6964),
    ("7/8-9 UNC", "49/64", 0.765625, 0.7547, 0.7776),
    ("7/8-14 UNF", "13/16", 0.8125, 0.7977, 0.8135),
    ("1-8 UNC", "7/8", 0.875, 0.8647, 0.8897),
    ("1-12 UNF", "59/64", 0.921875, 0.9098, 0.9278),
]

# Metric coarse: thread, drill (mm), minor diameter 6H min and max (mm). Drills: ISO 2306 / DIN 336 as printed in three
# metric tap-drill charts. Minimum: a metric thread table. Maximum: M3 and M4 from a tool catalogue's 6H table, the
# others ISO 965-1 from memory.
METRIC = [
    ("M3x0.5", 2.5, 2.459, 2.599),
    ("M4x0.7", 3.3, 3.242, 3.422),
    ("M5x0.8", 4.2, 4.134, 4.334),
    ("M6x1", 5.0, 4.917, 5.153),
    ("M7x1", 6.0, 5.917, 6.153),
    ("M8x1.25", 6.8, 6.647, 6.912),
    ("M10x1.5", 8.5, 8.376, 8.676),
    ("M12x1.75", 10.2, 10.106, 10.441),
    ("M14x2", 12.0, 11.835, 12.21),
    ("M16x2", 14.0, 13.835, 14.21),
    ("M18x2.5", 15.5, 15.294, 15.744),
    ("M20x2.5", 17.5, 17.294, 17.744),
    ("M22x2.5", 19.5, 19.294, 19.744),
    ("M24x3", 21.0, 20.752, 21.252),
]


@pytest.mark.parametrize(("name", "drill_name", "drill", "low", "high"), UNIFIED)
def test_unified_minor_limits_are_those_of_the_printed_table(
    name: str, drill_name: str, drill: float, low: float, high: float
) -> None:
    thread = parse_thread(name)
    assert thread.unified
    assert thread.minor / INCH == pytest.approx(low, abs=0.0006), drill_name
    assert thread.minor_max / INCH == pytest.approx(high, abs=0.0006)
    assert thread.minor / INCH - 0.0005 <= drill
    if name not in OVER_2B:
        assert drill <= thread.minor_max / INCH + 0.0005


@pytest.mark.parametrize(("name", "drill", "low", "high"), METRIC)
def test_metric_minor_limits_are_those_of_the_printed_table(name: str, drill: float, low: float, high: float) -> None:
    thread = parse_thread(name)
    assert not thread.unified
    assert thread.minor == pytest.approx(low, abs=0.001)
    assert thread.minor_max == pytest.approx(high, abs=0.001)
    assert thread.minor <= drill <= thread.minor_max


@pytest.mark.parametrize(("name", "drill", "low", "high"), METRIC)
def test_a_metric_size_alone_is_the_coarse_thread(name: str, drill: float, low: float, high: float) -> None:
    assert parse_thread(name.split("x")[0]).pitch == parse_thread(name).pitch


def test_the_drill_that_half_a_thread_would_need_is_outside_6h() -> None:
    # "hard material" columns at 50 % thread (1.299038 P basis) break the 6H maximum in every metric row
    for name, _, _, high in METRIC:
        thread = parse_thread(name)
        assert thread.major - 0.5 * 1.299038 * thread.pitch > high
        assert thread.major - 0.5 * 1.299038 * thread.pitch > thread.minor_max


def test_the_half_inch_coarse_thread_in_mm() -> None:
    thread = parse_thread("1/2-13 UNC")
    assert thread.major == pytest.approx(12.7)
    assert thread.pitch == pytest.approx(25.4 / 13)
    assert thread.minor <= 27 / 64 * INCH <= thread.minor_max  # handbook: tap drill 27/64 in


@pytest.mark.parametrize(
    "name", ["", "M", "M0x1", "M12x0", "M12x7", "1/0-13 UNC", "#7-32 UNC", "1/2-0 UNC", "G1/4", "12"]
)
def test_a_designation_that_means_nothing_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="thread"):
        parse_thread(name)


# PL = DC/2 / tan(SIG/2): computed closed form; 118 degrees also printed as 0.3005 D in a drill-point calculator
POINTS = [
    (10, 118, 3.0043),
    (10, 135, 2.07107),
    (10, 140, 1.81985),
    (6.8, 118, 2.04293),
    (8.5, 140, 1.54687),
    (5.0, 118, 1.50215),
    (12.7, 118, 3.81546),
    (1, 60, 0.8660254),
    (1, 90, 0.5),
    (1, 120, 0.2886751),
    (1, 130, 0.2331538),
    (1, 142, 0.1721638),
    (1, 180, 0.0),
    (0.75 * INCH, 118, 0.2253 * INCH),  # printed worked case: 3/4 in drill, point 0.225 in
]


@pytest.mark.parametrize(("diameter", "angle", "expected"), POINTS)
def test_the_point_of_a_drill_is_as_long_as_the_table_says(diameter: float, angle: float, expected: float) -> None:
    drill = Tool(id="D", type="twist_drill", DC=diameter, SIG=angle, stickout=100)
    assert drill.point_length == pytest.approx(expected, abs=1e-3 if diameter > 15 else 1e-4)


def test_a_drill_without_angle_has_the_usual_118_degrees() -> None:
    # 118 degrees for general-purpose twist drills: common practice
    assert Tool(id="D", type="twist_drill", DC=10, stickout=100).point_length == pytest.approx(3.0043, abs=1e-4)


@pytest.mark.parametrize(("diameter", "angle", "depth"), [(6.6, 90, 3.3), (6.6, 120, 1.90526)])
def test_a_spot_of_that_diameter_is_that_deep(diameter: float, angle: float, depth: float) -> None:
    # (DH/2) / tan(SIG/2): computed closed form
    spot = Tool(id="S", type="spotdrill", DC=diameter, SIG=angle, LU=10, stickout=40)
    assert spot.point_length == pytest.approx(depth, abs=1e-4)


def test_a_tip_shortens_the_point() -> None:
    # (10 - 2) / 2 / tan(45 deg) = 4: computed closed form
    mill = Tool(id="C", type="chamfer_mill", DC=10, SIG=90, tip_diameter=2, stickout=40)
    assert mill.point_length == pytest.approx(4.0)
    assert math.isclose(mill.diameter, 10)


@pytest.mark.parametrize(
    ("major", "pitch", "name"),
    [
        (8, 1.25, "M8x1.25"),
        (8, 1.0, "M8x1"),
        (10, 1.25, "M10x1.25"),
        (24, 3.0, "M24x3"),
        (12.7, 25.4 / 13, "1/2-13 UNC"),
        (12.7, 25.4 / 20, "1/2-20 UNF"),
        (6.35, 25.4 / 20, "1/4-20 UNC"),
        (4.826, 25.4 / 32, "#10-32 UNF"),
        (8 + 0.2165 * 1.25, 1.25, "M8x1.25"),  # a sharp vee: H / 4 = 0.2165 P over the nominal diameter (ISO 68-1)
        (9.3, 1.7, "ø 9.3 x 1.7"),
    ],
)
def test_measured_sizes_have_the_name_of_the_series(major: float, pitch: float, name: str) -> None:
    assert thread_named(major, pitch) == name
    assert thread_named(major, pitch, left=True) == f"{name}-LH"


def test_every_standard_thread_is_found_by_its_own_sizes() -> None:
    for name in standard_threads():
        thread = parse_thread(name)
        assert thread_named(thread.major, thread.pitch) == name


@pytest.mark.parametrize(
    ("name", "sizes"),
    [
        ("M8x1-6H", (8, 1.0, False)),
        ("M8 - 6H", (8, 1.25, False)),
        ("1/2-13 UNC-2B-LH", (12.7, 25.4 / 13, True)),
        ("M10x1.5-5g6g", (10, 1.5, False)),
    ],
)
def test_names_may_carry_a_tolerance_class_and_a_hand(name: str, sizes: tuple[float, float, bool]) -> None:
    found = thread_in_name(name)
    assert found is not None and (found.major, found.pitch, found.left) == pytest.approx(sizes)


@pytest.mark.parametrize("name", ["", "Boss-Extrude1", "17", "M", "MX8", "thread"])
def test_other_names_are_no_thread(name: str) -> None:
    assert thread_in_name(name) is None


def test_threads_differ_by_pitch_and_hand() -> None:
    assert same_thread(parse_thread("M8"), parse_thread("M8x1.25"))
    assert not same_thread(parse_thread("M8"), parse_thread("M8x1"))
    assert not same_thread(parse_thread("M8"), parse_thread("M8-LH"))
