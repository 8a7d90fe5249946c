"""T-slots, dovetails and ring grooves: plan in, stage volume out, against closed forms (relative 1e-6)."""

from __future__ import annotations

import math
from typing import Any

import pytest

from examples.shapes import Shape, cut, cylinder, torus, volume
from tests.support.recognised import recognise
from tests.support.trial import Json, plan, raw_box, removals, setup, stages_of, step, step_bytes, tool
from tests.support.undercut import (
    FINISH,
    RAW,
    SLANT,
    SLOT,
    block,
    bore,
    boss,
    dovetail,
    dovetail_mill,
    flat_groove,
    keyed,
    mouth,
    side_mill,
    t_mill,
    t_slot,
    turned,
    with_channel,
    with_mouth,
)
from worker.kernel.shape import Body
from worker.stage.model import Stage

REL = 1e-6
PI = math.pi
FOOT = 80 * (18 - 10) * 8
"""T-slot area beside the mouth times its length."""
WINGS = 80 * 10 * SLANT
"""Dovetail beside its mouth: two triangles of 10 x SLANT / 2, 80 long."""
CORNER = 1 - PI / 4
CENTROID = (10 - 3 * PI) / (12 - 3 * PI)
"""Area between a unit quarter circle and its corner, and how far its centroid lies from either side."""
BLANK = {"cylinder": {"diameter": 40, "from": [0, 0, -30], "to": [0, 0, 0]}}
PLATE = raw_box((-40, -40, -40), (40, 40, 0))
BORING = step(FINISH, tool("endmill", 12), {"class": "round_hole"})


def _undercut_of(part: Shape) -> str:
    """The id of the part's feature that no straight tool sees."""
    return next(f.id for f in recognise(Body(part)) if f.undercut)


def _after_mouth(part: Shape, cutter: Json, diameter: float = 10, **keys: Any) -> tuple[float, Stage]:
    (stage,) = stages_of(part, plan(RAW, setup([mouth(diameter=diameter), step(FINISH, cutter, SLOT, **keys)])))
    return removals(stage)[1], stage


@pytest.mark.parametrize(
    "sizes",
    [{}, {"DC": 14, "APMX": 3, "DN": 5, "DMM": 5}, {"DN": 10, "DMM": 10}],
    ids=["as-the-foot", "smaller", "neck-as-the-mouth"],
)
def test_t_slot(sizes: dict[str, float]) -> None:
    found, stage = _after_mouth(t_slot(), t_mill(**sizes))
    assert found == pytest.approx(FOOT, rel=REL)
    assert stage.balance.to_be == pytest.approx(volume(t_slot()), rel=1e-9)


def test_t_slot_without_its_mouth_takes_the_foot_alone() -> None:
    (stage,) = stages_of(t_slot(), plan(RAW, setup([step(FINISH, t_mill(), SLOT)])))
    assert removals(stage)[0] == pytest.approx(80 * 18 * 8, rel=REL)


def test_round_edges_leave_the_corners_of_the_foot() -> None:
    found, _ = _after_mouth(t_slot(), t_mill(RE=1))
    assert found == pytest.approx(FOOT - 4 * 80 * CORNER, rel=REL)


def test_allowances_on_walls_roof_and_floor() -> None:
    found, _ = _after_mouth(t_slot(), t_mill(DC=14, APMX=3, DN=5, DMM=5), allowance_side=0.3, allowance_bottom=0.2)
    assert found == pytest.approx(80 * (18 - 0.6 - 10) * (8 - 0.3 - 0.2), rel=REL)


@pytest.mark.parametrize(("tip", "gouge"), [(-21.0, 80 * 18.0), (-19.5, 80 * 8 * 0.5)], ids=["floor", "roof"])
def test_a_stated_depth_is_obeyed_into_floor_and_roof(tip: float, gouge: float) -> None:
    _, stage = _after_mouth(t_slot(), t_mill(), bottom_z=tip)
    found = stage.cuts[1].gouge
    assert found is not None and volume(found.wrapped) == pytest.approx(gouge, rel=REL)


@pytest.mark.parametrize(
    "sizes", [{"DC": 18.1}, {"APMX": 8.1}, {"DN": 10.1}, {"LU": 11, "DMM": 10.1}], ids=["DC", "APMX", "DN", "DMM"]
)
def test_a_head_neck_or_shank_that_is_too_large_leaves_the_foot(sizes: dict[str, float]) -> None:
    # a thick neck lets the head in from the ends, as far as it sticks out over the neck
    found, stage = _after_mouth(t_slot(), t_mill(**sizes))
    assert found < 0.15 * FOOT
    assert stage.balance.to_be == pytest.approx(volume(t_slot()) + FOOT - found, rel=1e-9)


def test_blind_t_slot_keeps_its_round_end() -> None:
    # the head ends 51 - 9 from the open end; what the disc of the foot leaves outside the mouth's own disc stays
    part = t_slot(end=10)
    (stage,) = stages_of(part, plan(RAW, setup([mouth(), step(FINISH, t_mill(), SLOT)])))
    corners = (18**2 - PI * 9**2) / 2
    assert removals(stage)[0] + removals(stage)[1] == pytest.approx(
        50 * 18 * 8 - corners * 8 + (50 * 10 - (10**2 - PI * 5**2) / 2) * 12, rel=REL
    )


def test_closed_t_slot_is_entered_through_its_hole() -> None:
    part = keyed()
    (stage,) = stages_of(part, plan(RAW, setup([step(FINISH, t_mill(), _undercut_of(part))])))
    assert removals(stage)[0] == pytest.approx((40 * 18 + PI * 9**2) * 8, rel=REL)


@pytest.mark.parametrize("height", [10, 4])
def test_dovetail(height: float) -> None:
    found, stage = _after_mouth(dovetail(), dovetail_mill(APMX=height), diameter=12)
    assert found == pytest.approx(WINGS, rel=REL)
    assert stage.balance.to_be == pytest.approx(volume(dovetail()), rel=1e-9)


def test_dovetail_mill_of_45_degrees_in_a_dovetail_of_60() -> None:
    # its flank touches the floor's corners alone: two right triangles of SLANT x SLANT
    found, _ = _after_mouth(dovetail(), dovetail_mill(KAPR=45, DC=22, DN=2, DMM=2), diameter=12)
    assert found == pytest.approx(80 * SLANT**2, rel=REL)


def test_supplementary_angles_mean_the_same_flank() -> None:
    found, _ = _after_mouth(dovetail(), dovetail_mill(KAPR=120), diameter=12)
    assert found == pytest.approx(WINGS, rel=REL)


def test_round_edge_in_a_sharp_dovetail() -> None:
    # the corner of 60 degrees keeps r^2 (cot 30 - pi/3): between floor, wall and an arc of 120 degrees
    found, _ = _after_mouth(dovetail(), dovetail_mill(RE=0.5), diameter=12)
    kept = 0.25 * (1 / math.tan(math.radians(30)) - PI / 3)
    assert found == pytest.approx(WINGS - 2 * 80 * kept, rel=REL)


@pytest.mark.parametrize("corner", [2.0, 1.5])
def test_ring_groove_of_full_radius_in_a_bore(corner: float) -> None:
    # Pappus: half a disc of radius 2, its centroid 4 r/(3 pi) outside the bore's wall
    part = bore(torus((0, 0, -15), 20, 2))
    cutter = side_mill(RE=corner, APMX=2 * corner)
    (stage,) = stages_of(part, plan(PLATE, setup([BORING, step(FINISH, cutter, {"at": [22, 0, -15]})])))
    assert removals(stage)[1] == pytest.approx(2 * PI * (20 + 8 / (3 * PI)) * PI * 2, rel=REL)


def test_flat_ring_groove_in_a_bore() -> None:
    works = [BORING, step(FINISH, side_mill(APMX=1.3), {"at": [23, 0, -13]})]
    (stage,) = stages_of(flat_groove(outside=False), plan(PLATE, setup(works)))
    assert removals(stage)[1] == pytest.approx(PI * (23**2 - 20**2) * 3, rel=REL)


def test_round_edges_in_a_flat_ring_groove() -> None:
    works = [BORING, step(FINISH, side_mill(APMX=3, RE=0.5), {"at": [23, 0, -13]})]
    (stage,) = stages_of(flat_groove(outside=False), plan(PLATE, setup(works)))
    kept = 2 * PI * 2 * (23 - CENTROID * 0.5) * CORNER * 0.25
    assert removals(stage)[1] == pytest.approx(PI * (23**2 - 20**2) * 3 - kept, rel=REL)


@pytest.mark.parametrize("sizes", [{"DN": 18}, {"DMM": 18, "LU": 10}], ids=["neck", "shank"])
def test_v28_with_a_neck_or_shank_that_stops_at_the_boss(sizes: dict[str, float]) -> None:
    # the head's circle ends 1 short of the groove's: a segment of radius 2 and height 1, turned about the boss (Pappus)
    part = cut(boss(), torus((0, 0, -15), 20, 2))
    cutter = side_mill(RE=2, **sizes)
    (stage,) = stages_of(part, plan(BLANK, setup([step(FINISH, cutter, {"at": [18, 0, -15]})])))
    segment = 4 * PI / 3 - math.sqrt(3)
    centroid = (2 * math.sqrt(3)) ** 3 / (12 * segment)
    assert removals(stage)[0] == pytest.approx(2 * PI * (21 - centroid) * segment, rel=REL)


def test_groove_along_a_side_cut_from_above() -> None:
    # a half round groove in the face at x = 40, straight from there, undercut from above: pi r^2 L / 2
    part = cut(block(), cylinder((40, -31, -20), (40, 31, -20), 4))
    (stage,) = stages_of(part, plan(RAW, setup([step(FINISH, side_mill(RE=2), SLOT)])))
    assert removals(stage)[0] == pytest.approx(PI * 2 * 60, rel=REL)


@pytest.mark.parametrize(
    ("part", "raw", "cutter", "expected"),
    [
        (t_slot(), with_mouth(), t_mill(), FOOT),
        (t_slot(), with_mouth(), t_mill(RE=1), FOOT - 4 * 80 * CORNER),
        (dovetail(), with_channel(), dovetail_mill(), WINGS),
        (cut(boss(), torus((0, 0, -15), 20, 2)), boss(), side_mill(RE=2), 756.0580304488575),
    ],
    ids=["T-slot", "T-slot-round-edges", "dovetail", "V28"],
)
def test_in_a_freely_tilted_setup(part: Shape, raw: Shape, cutter: Json, expected: float) -> None:
    moved, z, x = turned(part)
    tilted = setup([step(FINISH, cutter, _undercut_of(moved))], axis=z, ref_direction=list(x))
    (stage,) = stages_of(moved, plan({"step": "RAW"}, tilted), {"RAW": step_bytes(turned(raw)[0])})
    assert removals(stage)[0] == pytest.approx(expected, rel=REL)


def test_a_clamp_in_the_way_keeps_metal() -> None:
    # a clamp over the right end, 10 above the block: the neck stops DN/2 from it, the head goes DC/2 further
    clamp = {"type": "clamp", "box": {"min": [30, -30, 0], "max": [60, 30, 10]}}
    plate = {
        "type": "fixture_plate",
        "elements": [{"type": "plate", "box": {"min": [-90, -90, -60], "max": [90, 90, -40]}}, clamp],
    }
    works = [step(FINISH, t_mill(), SLOT)]
    held = setup(works, workholding=plate)
    raw = {"step": "RAW"}
    (stage,) = stages_of(t_slot(), plan(raw, held), {"RAW": step_bytes(with_mouth())})
    straight, disc = 40 + 30 - 4.5, 9.0
    wings = straight * 8 + disc**2 * PI / 2 - _chord(5, 9)
    assert removals(stage)[0] == pytest.approx(8 * wings, rel=REL)


def _chord(half: float, radius: float) -> float:
    """Area of the half disc between two lines along its axis, ``half`` to each side."""
    return half * math.sqrt(radius**2 - half**2) + radius**2 * math.asin(half / radius)
