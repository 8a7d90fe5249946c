"""Holes through the product's own path: part and plan in, stage volume out, against closed forms (relative 1e-6)."""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, common, cone, cut, cylinder, drill, volume
from tests.support.trial import plan, raw_box, removals, setup, stages_of, step, step_bytes, taken, to_be, tool

REL = 1e-6
PI = math.pi
HOLE = {"class": "round_hole"}


def block(thick: float, half: float = 20) -> Shape:
    return box((-half, -half, -thick), (half, half, 0))


def raw(thick: float, half: float = 20) -> dict[str, object]:
    return raw_box((-half, -half, -thick), (half, half, 0))


def test_v01_blind_hole_with_its_point() -> None:
    # V01, computed closed form: pi r^2 d + pi r^2 L / 3, L = r / tan 59 deg
    expected = PI * 25 * 30 + PI * 25 * (5 / math.tan(math.radians(59))) / 3
    assert expected == pytest.approx(2434.846961, abs=1e-6)
    part = cut(block(50), drill((0, 0, 1), (0, 0, -30), 10))
    (stage,) = stages_of(part, plan(raw(50), setup([step("drilling", tool("twist_drill", 10, SIG=118), HOLE)])))
    assert taken(stage) == pytest.approx(expected, rel=REL)
    assert stage.cuts[0].tip_z == pytest.approx(-30 - 5 / math.tan(math.radians(59)), abs=1e-6)
    assert stage.cuts[0].full_diameter_z == pytest.approx(-30, abs=1e-6)


def test_v02_through_hole_with_overcut() -> None:
    # V02, computed closed form: pi r^2 t, whatever the overcut
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 10))
    work = step("drilling", tool("twist_drill", 10, SIG=118), HOLE, overcut_length=2)
    (stage,) = stages_of(part, plan(raw(20), setup([work])))
    assert taken(stage) == pytest.approx(1570.796327, rel=REL)
    assert stage.cuts[0].tip_z == pytest.approx(-20 - 2 - 3.0043, abs=1e-4)  # PL of D10/118: computed closed form


def test_v03_tip_only_one_past_leaves_a_ring() -> None:
    # V03, computed closed form: pi r^2 c + frustum; exit diameter 3.32856, uncut ring 81.66568
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 10))
    work = step("drilling", tool("twist_drill", 10, SIG=118), HOLE, bottom_z=-21)
    (stage,) = stages_of(part, plan(raw(20), setup([work])))
    assert taken(stage) == pytest.approx(1489.130646, rel=REL)
    assert to_be(stage) - volume(part) == pytest.approx(81.66568, rel=1e-6)


def crossing(*diameters: float) -> tuple[Shape, list[dict[str, object]]]:
    """A 40 cube with through holes along X, Y, Z in that order, and a plan that drills each from its own side."""
    ends = [((-21, 0, -20), (21, 0, -20)), ((0, -21, -20), (0, 21, -20)), ((0, 0, -41), (0, 0, 1))]
    part = cut(block(40), *(cylinder(a, b, d) for (a, b), d in zip(ends, diameters, strict=False)))
    axes = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
    setups = []
    for axis, diameter in zip(axes, diameters, strict=False):
        hole = {"class": "round_hole", "diameter": diameter, "axis": axis}
        cutter = tool("twist_drill", diameter, SIG=118)
        setups.append(setup([step("drilling", cutter, hole, overcut_length=2)], axis=axis))
    return part, setups


def test_v06_v07_two_equal_crossing_holes() -> None:
    # V06 16 r^3 / 3 = 666.6666667 (bicylinder), V07 2 pi r^2 L - 16 r^3 / 3: computed closed forms
    part, setups = crossing(10, 10)
    first, second = stages_of(part, plan(raw(40), *setups))
    assert taken(first) == pytest.approx(PI * 25 * 40, rel=REL)
    assert taken(first) + taken(second) == pytest.approx(5616.518641, rel=REL)
    assert 2 * taken(first) - (taken(first) + taken(second)) == pytest.approx(666.6666667, rel=1e-5)


def test_v08_three_equal_crossing_holes() -> None:
    # V08 8 (2 - sqrt 2) r^3 = 585.7864376: computed closed form; the union by inclusion and exclusion
    part, setups = crossing(10, 10, 10)
    stages = stages_of(part, plan(raw(40), *setups))
    union = 3 * PI * 25 * 40 - 3 * 16 * 125 / 3 + 8 * (2 - math.sqrt(2)) * 125
    assert sum(taken(s) for s in stages) == pytest.approx(union, rel=REL)


def test_v09_two_unequal_crossing_holes() -> None:
    # V09 int_-r^r 4 sqrt(R^2-t^2) sqrt(r^2-t^2) dt = 269.3703275 (computed; equals the complete elliptic form)
    part, setups = crossing(10, 6)
    first, second = stages_of(part, plan(raw(40), *setups))
    assert taken(first) == pytest.approx(PI * 25 * 40, rel=REL)
    assert taken(second) == pytest.approx(PI * 9 * 40 - 269.3703275, rel=REL)


def test_v14_countersunk_hole() -> None:
    # V14, computed closed form: pi d^2/4 (t-3) + pi 3/3 (36+18+9), DH 12, d 6, 90 deg, t 20
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 6), cone((0, 0, 0), (0, 0, -6), 12, 0))
    works = [
        step("drilling", tool("twist_drill", 6, SIG=118), {"class": "round_hole", "diameter": 6}, overcut_length=2),
        step("counter_sinking", tool("countersink", 16, SIG=90), {"class": "countersunk_hole"}),
    ]
    (stage,) = stages_of(part, plan(raw(20), setup(works)))
    assert taken(stage) == pytest.approx(678.5840132, rel=REL)


def test_v15_counterbore_for_m6() -> None:
    # V15, computed closed form: pi/4 (11^2 * 6.5 + 6.6^2 * 13.5); 6.6 and 11: ISO 273 medium, DIN 974-1 series 1
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 6.6), cylinder((0, 0, -6.5), (0, 0, 1), 11))
    works = [
        step("drilling", tool("twist_drill", 6.6, SIG=118), {"class": "round_hole", "diameter": 6.6}, overcut_length=2),
        step("counter_sinking", tool("counterbore", 11), {"class": "round_hole", "diameter": 11}),
    ]
    (stage,) = stages_of(part, plan(raw(20), setup(works)))
    assert taken(stage) == pytest.approx(1079.576899, rel=REL)


def test_v16_inclined_hole_in_a_tilted_setup() -> None:
    # V16, computed closed form: pi r^2 t / cos 30 deg
    tilt = (math.sin(math.radians(30)), 0.0, math.cos(math.radians(30)))
    far = tuple(30 * c for c in tilt)
    part = cut(block(20), cylinder((-far[0], 0, -10 - far[2]), (far[0], 0, -10 + far[2]), 6))
    work = step("drilling", tool("twist_drill", 6, SIG=118), HOLE, overcut_length=5)
    one = setup([work], axis=tilt, location=[0, 0, 0], ref_direction=[1, 0, 0])
    (stage,) = stages_of(part, plan(raw(20), one))
    assert taken(stage) == pytest.approx(652.9677711, rel=REL)


def test_v22_ring_of_a_cutter_that_leaves_the_core() -> None:
    # V22, computed closed form: the core pi (DH/2 - DC)^2 h = 150.7964474 stands in a hole D20 x 12 cut with D8
    part = cut(block(20), cut(cylinder((0, 0, -12), (0, 0, 1), 20), cylinder((0, 0, -12), (0, 0, 0), 4)))
    groove = {"at": [6, 0, -12]}
    work = step("bottom_and_side_finish_milling", tool("endmill", 8), groove)
    (stage,) = stages_of(part, plan(raw(20), setup([work])))
    assert PI * 100 * 12 - taken(stage) == pytest.approx(150.7964474, rel=1e-5)
    assert taken(stage) == pytest.approx(PI * (100 - 4) * 12, rel=REL)


def test_v24_eight_holes_in_one_step() -> None:
    # V24, computed closed form: 8 pi r^2 t
    places = [(15 * math.cos(k * PI / 4), 15 * math.sin(k * PI / 4)) for k in range(8)]
    part = cut(block(20, 25), *(cylinder((x, y, -21), (x, y, 1), 9) for x, y in places))
    work = step("drilling", tool("twist_drill", 9, SIG=118), HOLE | {"diameter": 9, "count": 8}, overcut_length=1)
    (stage,) = stages_of(part, plan(raw(20, 25), setup([work])))
    assert taken(stage) == pytest.approx(10178.7602, rel=REL)
    assert len(stage.cuts[0].plunges) == 8


def test_v27_radial_hole_to_the_axis_of_a_shaft() -> None:
    # V27: int 2 sqrt(9-t^2) sqrt(400-t^2) dt = 563.8917415 (computed); flat at the axis, so an end mill makes it
    shaft = cylinder((0, 0, -30), (0, 0, 30), 40)
    part = cut(shaft, cylinder((0, 0, 0), (0, 30, 0), 6))
    blank = {"cylinder": {"diameter": 40, "from": [0, 0, -30], "to": [0, 0, 30]}}
    work = step("bottom_and_side_finish_milling", tool("endmill", 6), HOLE)
    one = setup([work], axis=[0, 1, 0], location=[0, 20, 0])
    (stage,) = stages_of(part, plan(blank, one))
    assert taken(stage) == pytest.approx(563.8917415, rel=REL)


def test_pilot_then_drill_adds_up_to_the_drill_alone() -> None:
    # invariant: removals of successive steps add up to what the last one would take from full stock
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 10))
    works = [
        step("center_drilling", tool("spotdrill", 8, SIG=90), HOLE, cutting_depth=2),
        step("drilling", tool("twist_drill", 6, SIG=118), HOLE, overcut_length=1),
        step("drilling", tool("twist_drill", 10, SIG=118), HOLE, overcut_length=1),
    ]
    (stage,) = stages_of(part, plan(raw(20), setup(works)))
    # the spot is a cone 2 deep: pi 2^3 / 3; the pilot then lacks what the spot took of its cylinder and cannot be more
    assert removals(stage)[0] == pytest.approx(PI * 8 / 3, rel=REL)
    assert sum(removals(stage)) == pytest.approx(PI * 25 * 20, rel=REL)
    assert volume(common(stage.cuts[0].removal.wrapped, part)) == pytest.approx(0, abs=1e-6)


def test_bt1_a_printed_break_through_case_in_inch() -> None:
    # printed worked case: 3/4 in drill, 118 deg, 2 in thick, 0.050 in allowance: point 0.2253, tip at Z-2.275 in
    inch = 25.4
    part = cut(block(2 * inch, 25.4), cylinder((0, 0, -3 * inch), (0, 0, 1), 0.75 * inch))
    work = step("drilling", tool("twist_drill", 0.75, SIG=118, stickout=6), HOLE, overcut_length=0.05)
    one = setup([work])
    (stage,) = stages_of(step_bytes(part, "INCH"), plan(raw_box((-1, -1, -2), (1, 1, 0)), one, units="inch"))
    assert stage.cuts[0].tip_z / inch == pytest.approx(-2.275, abs=0.001)
    assert taken(stage) == pytest.approx(PI * 0.375**2 * 2 * inch**3, rel=REL)


def test_bt2_clearance_that_a_through_drill_needs_below() -> None:
    # PL + overcut = 5.0043 for DC 10, SIG 118, overcut 2: computed closed form
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 10))
    work = step("drilling", tool("twist_drill", 10, SIG=118), HOLE, overcut_length=2)
    (stage,) = stages_of(part, plan(raw(20), setup([work])))
    assert -20 - stage.cuts[0].tip_z == pytest.approx(5.0043, abs=1e-3)


def test_cs90_countersink_for_m6_is_as_deep_as_din_74_makes_it() -> None:
    # DIN 74 form A medium, M6 (scan): d1 6.6, d2 12.4, 90 deg; depth (DH - d)/2/tan 45 deg = 2.9: computed closed form
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 6.6), cone((0, 0, 0), (0, 0, -6.2), 12.4, 0))
    works = [
        step("drilling", tool("twist_drill", 6.6, SIG=118), {"class": "round_hole", "diameter": 6.6}, overcut_length=2),
        step("counter_sinking", tool("countersink", 16, SIG=90), {"class": "countersunk_hole"}),
    ]
    (stage,) = stages_of(part, plan(raw(20), setup(works)))
    frustum = PI * 2.9 / 3 * (6.2**2 + 6.2 * 3.3 + 3.3**2)
    assert taken(stage) == pytest.approx(frustum + PI * 3.3**2 * (20 - 2.9), rel=REL)
    assert stage.cuts[1].tip_z == pytest.approx(-6.2, abs=1e-6)


@pytest.mark.parametrize(("angle", "depth"), [(90, 3.3), (120, 1.90526)])
def test_sp1_sp2_a_spot_meets_the_edge_of_the_hole(angle: float, depth: float) -> None:
    # (DH/2) / tan(SIG/2) for DH 6.6: computed closed form; the cone pi r^2 depth / 3 is what goes
    part = cut(block(20), cylinder((0, 0, -21), (0, 0, 1), 6.6))
    (stage,) = stages_of(part, plan(raw(20), setup([step("center_drilling", tool("spotdrill", 12, SIG=angle), HOLE)])))
    assert -stage.cuts[0].tip_z == pytest.approx(depth, abs=1e-4)
    assert taken(stage) == pytest.approx(PI * 3.3**2 * depth / 3, rel=1e-5)
