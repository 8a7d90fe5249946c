"""Pockets, slots, notches, chamfers, rounds: plan in, stage volume out, against closed forms (relative 1e-6).

V23 (a ramp of 3 degrees, prism part) is faced in a setup tilted by that angle.
V28 (a full-radius ring groove round the side of a boss) is cut by a side mill whose edge has the groove's radius; the
same groove in a flat face by a ball-nose cutter. More undercuts: test_undercut_volumes.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from examples.shapes import (
    Shape,
    ball,
    box,
    chamfer_ring,
    cone,
    cut,
    cylinder,
    fuse,
    polygon,
    prism,
    rounded_block,
    torus,
    volume,
)
from tests.support.trial import plan, raw_box, removals, setup, stages_of, step, taken, to_be, tool
from worker.stage.standing import EXACT

REL = 1e-6
PI = math.pi
POCKET = {"class": "closed_pocket"}
ROUGH, FINISH = "bottom_and_side_rough_milling", "bottom_and_side_finish_milling"
V10 = 60 * 40 * 15 - (4 - PI) * 25 * 15
RAW = raw_box((-50, -40, -30), (50, 40, 0))


def block() -> Shape:
    return box((-50, -40, -30), (50, 40, 0))


def sharp_pocket() -> Shape:
    return cut(block(), box((-30, -20, -15), (30, 20, 1)))


def round_pocket(radius: float = 5) -> Shape:
    return cut(block(), rounded_block((-30, -20, -15), (30, 20, 1), radius))


def test_v10_v11_what_a_cutter_leaves_in_sharp_corners() -> None:
    # V10 a b h - (4 - pi) r^2 h = 35678.09725, V11 the residual (4 - pi) r^2 h = 321.9027549: computed closed forms
    assert pytest.approx(35678.09725, abs=1e-5) == V10
    part = sharp_pocket()
    (stage,) = stages_of(part, plan(RAW, setup([step(FINISH, tool("endmill", 10), POCKET)])))
    assert taken(stage) == pytest.approx(V10, rel=REL)
    assert to_be(stage) - volume(part) == pytest.approx(321.9027549, rel=1e-4)
    assert volume(stage.left_by(0).wrapped) == pytest.approx(321.9027549, rel=1e-4)


def test_v12_what_a_smaller_cutter_still_finds() -> None:
    # V12 (4 - pi)(5^2 - 3^2) h = 206.0177631: computed closed form
    works = [step(ROUGH, tool("endmill", 10), POCKET), step(FINISH, tool("endmill", 6), POCKET)]
    (stage,) = stages_of(sharp_pocket(), plan(RAW, setup(works)))
    assert removals(stage)[1] == pytest.approx(206.0177631, rel=1e-4)
    assert taken(stage) == pytest.approx(36000 - (4 - PI) * 9 * 15, rel=REL)


def test_v10_in_the_part_that_has_those_corners() -> None:
    (stage,) = stages_of(round_pocket(), plan(RAW, setup([step(FINISH, tool("endmill", 10), POCKET)])))
    assert taken(stage) == pytest.approx(V10, rel=REL)
    assert volume(stage.left_by(0).wrapped) == pytest.approx(0, abs=1e-3)


def test_v26_allowances_on_side_and_bottom() -> None:
    # V26 ((a-2s)(b-2s) - (4-pi) r^2)(h - bt) = 34319.71728 with s 0.3, bt 0.2, r 5: computed closed form
    work = step(ROUGH, tool("endmill", 10), POCKET, allowance_side=0.3, allowance_bottom=0.2)
    (stage,) = stages_of(sharp_pocket(), plan(RAW, setup([work])))
    assert taken(stage) == pytest.approx(34319.71728, rel=REL)


def test_v20_bull_nose_on_a_sharp_floor() -> None:
    # V20 left by RE 1 round the floor of V10: A(2(a-2r)+2(b-2r)) + 2 pi (r-c) A = 40.77702383,
    # A = (1 - pi/4) RE^2, c = RE (10 - 3 pi)/(12 - 3 pi): computed closed form
    part = round_pocket()
    work = step(FINISH, tool("bullnose_endmill", 10, RE=1), POCKET)
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    assert to_be(stage) - volume(part) == pytest.approx(40.77702383, rel=1e-3)
    assert taken(stage) == pytest.approx(V10 - 40.77702383, rel=REL)


def test_v13_slot_with_radiused_ends() -> None:
    # V13 (w L + pi w^2 / 4) d = 3828.318531: computed closed form
    tools = fuse(
        box((-20, -5, -8), (20, 5, 1)), cylinder((-20, 0, -8), (-20, 0, 1), 10), cylinder((20, 0, -8), (20, 0, 1), 10)
    )
    part = cut(block(), tools)
    (stage,) = stages_of(part, plan(RAW, setup([step(FINISH, tool("endmill", 10), {"at": [0, 0, -8]})])))
    assert taken(stage) == pytest.approx(3828.318531, rel=REL)


def test_v21_notch_at_an_edge() -> None:
    # V21 (R^2 acos(d/R) - d sqrt(R^2 - d^2)) h = 792.6734251, R 10, centre 4 outside, depth 10: computed closed form
    part = cut(block(), cylinder((54, 0, -10), (54, 0, 1), 20))
    (stage,) = stages_of(part, plan(RAW, setup([step(FINISH, tool("endmill", 20), {"at": [48, 0, -10]})])))
    assert taken(stage) == pytest.approx(792.6734251, rel=REL)


def test_v04_dimple_of_a_ball_cutter() -> None:
    # V04 pi h^2 (3R - h)/3 = 54.45427266, R 5, h 2: computed closed form
    part = cut(block(), ball((0, 0, 3), 5))
    work = step("freeform_operation", tool("ballnose_endmill", 10), {"at": [0, 0, -2]})
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    assert taken(stage) == pytest.approx(54.45427266, rel=REL)


def test_v05_groove_of_a_ball_cutter() -> None:
    # V05 pi R^2 L / 2 + 2 pi R^3 / 3 = 2225.294796, R 5, travel 50, centre on the top face: computed closed form
    groove = fuse(cylinder((-25, 0, 0), (25, 0, 0), 10), ball((-25, 0, 0), 5), ball((25, 0, 0), 5))
    part = cut(block(), groove)
    work = step("freeform_operation", tool("ballnose_endmill", 10), {"at": [0, 0, -5]})
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    assert taken(stage) == pytest.approx(2225.294796, rel=REL)


def test_v17_chamfer_along_an_edge() -> None:
    # V17 c^2 L / 2 = 50: computed closed form
    part = cut(block(), prism(polygon([(-50, 39, 0), (-50, 41, 0), (-50, 40, -1)]), (100, 0, 0)))
    mill = tool("chamfer_mill", 10, SIG=90, tip_diameter=2)
    (stage,) = stages_of(part, plan(RAW, setup([step("chamfering", mill, {"class": "chamfer"})])))
    assert taken(stage) == pytest.approx(50, rel=REL)


def test_v18_chamfer_round_a_rim() -> None:
    # V18 pi c^2 (R - c/3) = 61.78465552, R 20, c 1 (Pappus): computed closed form
    part = chamfer_ring(cylinder((0, 0, -20), (0, 0, 0), 40), 0, 1)
    blank = {"cylinder": {"diameter": 40, "from": [0, 0, -20], "to": [0, 0, 0]}}
    mill = tool("chamfer_mill", 10, SIG=90, tip_diameter=2)
    (stage,) = stages_of(part, plan(blank, setup([step("chamfering", mill, {"class": "chamfer"})])))
    assert taken(stage) == pytest.approx(61.78465552, rel=REL)


def test_v19_rounded_edge() -> None:
    # V19 (1 - pi/4) r^2 L = 85.84073464, r 2, L 100: computed closed form
    corner = cut(box((-50, 38, -2), (50, 40, 0)), cylinder((-50, 38, -2), (50, 38, -2), 4))
    part = cut(block(), corner)
    work = step("freeform_operation", tool("ballnose_endmill", 6), {"class": "edge_round"})
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    assert taken(stage) == pytest.approx(85.84073464, rel=REL)


def test_a_round_down_to_the_underside_of_a_thin_disc_leaves_the_stock_below_it() -> None:
    # Pappus: the ring of width and height r outside R - r, less a quarter disc at R - r + 4 r/(3 pi); R 20, r 0.8
    r, inner = 0.8, 19.2
    ring = cut(cylinder((0, 0, -r), (0, 0, 0), 40), cylinder((0, 0, -r), (0, 0, 0), 2 * inner))
    part = cut(cylinder((0, 0, -r), (0, 0, 0), 40), cut(ring, torus((0, 0, -r), inner, r)))
    blank = {"cylinder": {"diameter": 40, "from": [0, 0, -3], "to": [0, 0, 0]}}
    work = step("freeform_operation", tool("ballnose_endmill", 1.6), {"class": "region"})
    (stage,) = stages_of(part, plan(blank, setup([work])))
    whole, kept = PI * (20**2 - inner**2) * r, 2 * PI * (inner + 4 * r / (3 * PI)) * PI * r * r / 4
    assert taken(stage) == pytest.approx(whole - kept, rel=REL)


def test_v28_ring_groove_of_full_radius_in_a_face() -> None:
    # Pappus: a half disc of radius 2 turned at radius 20 sweeps 2 pi 20 * pi 2^2 / 2: computed closed form
    part = cut(block(), torus((0, 0, 0), 20, 2))
    work = step("freeform_operation", tool("ballnose_endmill", 4), {"at": [20, 0, -2]})
    (stage,) = stages_of(part, plan(RAW, setup([work])))
    assert taken(stage) == pytest.approx(2 * PI * 20 * PI * 2, rel=REL)


def test_v28_ring_groove_round_the_side_of_a_boss() -> None:
    # V28 2 pi (R - 4 r/(3 pi)) pi r^2/2 = 756.0580304, R 20, r 2 (Pappus): computed closed form
    part = cut(cylinder((0, 0, -30), (0, 0, 0), 40), torus((0, 0, -15), 20, 2))
    blank = {"cylinder": {"diameter": 40, "from": [0, 0, -30], "to": [0, 0, 0]}}
    mill = tool("side_mill", 20, APMX=4, RE=2, DN=10, LU=25, DMM=10)
    (stage,) = stages_of(part, plan(blank, setup([step(FINISH, mill, {"at": [18, 0, -15]})])))
    assert taken(stage) == pytest.approx(756.0580304488575, rel=1e-9)
    assert volume(stage.left_by(0).wrapped) == pytest.approx(0, abs=1e-3)


def test_v23_ramp_faced_in_a_setup_tilted_by_its_angle() -> None:
    # V23 w L^2 tan 3 deg / 2 = 419.2622343, w 10, L 40: computed closed form
    angle = math.radians(3)
    drop = 40 * math.tan(angle)
    part = prism(polygon([(0, 0, -20), (40, 0, -20), (40, 0, -drop), (0, 0, 0)]), (0, 10, 0))
    axis = (math.sin(angle), 0, math.cos(angle))
    faced = step("plane_finish_milling", tool("endmill", 12), {"class": "planar_face", "normal": axis})
    (stage,) = stages_of(part, plan(raw_box((0, 0, -20), (40, 10, 0)), setup([faced], axis=axis)))
    assert taken(stage) == pytest.approx(419.2622343, rel=REL)


def test_pocket_with_an_island_keeps_the_island() -> None:
    # (60*40 - (4-pi)*25 - pi*6^2) * 15 and the same island regrown: computed closed form
    part = fuse(round_pocket(), cylinder((0, 0, -15), (0, 0, 0), 12))
    (stage,) = stages_of(part, plan(RAW, setup([step(FINISH, tool("endmill", 10), POCKET)])))
    assert taken(stage) == pytest.approx(V10 - PI * 36 * 15, rel=REL)


def test_stock_above_a_pocket_is_taken_in_its_own_column() -> None:
    # the region of a closed pocket is its own column up to the surface: (15 + 2) high where 2 mm stand above
    raw = raw_box((-50, -40, -30), (50, 40, 2))
    (stage,) = stages_of(round_pocket(), plan(raw, setup([step(FINISH, tool("endmill", 10), POCKET)])))
    assert taken(stage) == pytest.approx(V10 / 15 * 17, rel=REL)


def test_step_is_taken_past_its_open_sides() -> None:
    # blank 2 mm larger at the open sides: the whole corner goes, (20+2) x (80+4) x (10+2): computed closed form
    part = cut(block(), box((30, -41, -10), (51, 41, 1)))
    raw = raw_box((-52, -42, -30), (52, 42, 2))
    (stage,) = stages_of(part, plan(raw, setup([step(FINISH, tool("endmill", 16), {"class": "step"})])))
    assert taken(stage) == pytest.approx(22 * 84 * 12, rel=REL)


def test_chamfer_of_a_hole_that_a_round_side_cuts_off() -> None:
    # Source: what of a bar of radius 20 stands on the cone z = 12.5 + r between r 3 and 3.5, by a sum over the plane
    bar, hole = cylinder((0, 0, 0), (60, 0, 0), 40), (30, 8.8)
    flat = cut(bar, box((-1, -30, 16), (61, 30, 30)), cylinder((*hole, -30), (*hole, 30), 6))
    part = cut(flat, cone((*hole, 15.5), (*hole, 17.5), 6, 10))
    blank = {"cylinder": {"diameter": 40, "from": [0, 0, 0], "to": [60, 0, 0]}}
    mill = tool("chamfer_mill", 10, SIG=90, tip_diameter=2)
    (stage,) = stages_of(part, plan(blank, setup([step("chamfering", mill, {"class": "chamfer"})])))
    r, turn = np.meshgrid((np.arange(1000) + 0.5) / 2000 + 3, (np.arange(4000) + 0.5) * 2 * PI / 4000)
    over = np.sqrt(400 - (8.8 + r * np.sin(turn)) ** 2) - 12.5 - r
    assert taken(stage) == pytest.approx((over.clip(min=0) * r).mean() * 0.5 * 2 * PI, rel=REL)


def test_chamfers_that_meet_on_a_slope_share_one_wall() -> None:
    # Source: over what a bore's rim and a slot's edges leave at a depth t of their legs of 1, by sums over t
    half, radius = 3.0, 8.0
    slotted = cut(box((-20, -15, 0), (20, 15, 12)), cylinder((0, 0, -1), (0, 0, 13), 2 * radius))
    slotted = cut(slotted, box((0, -half, -1), (21, half, 13)), cone((0, 0, 11), (0, 0, 12.5), 16, 19))
    wedge = polygon([(0, -half, 11), (0, half, 11), (0, half + 1.5, 12.5), (0, -half - 1.5, 12.5)])
    mill = tool("chamfer_mill", 10, SIG=90, tip_diameter=2)
    works = [step("chamfering", mill, {"class": "chamfer", "at": at}) for at in ([14, 3.5, 11.5], [14, -3.5, 11.5])]
    works.append(step("chamfering", mill, {"class": "chamfer", "at": [-8.5, 0, 11.5]}))
    document = plan(raw_box((-20, -15, 0), (20, 15, 12)), setup(works))
    (stage,) = stages_of(cut(slotted, prism(wedge, (21, 0, 0))), document)
    t = (np.arange(20000) + 0.5) / 20000
    side = ((1 - t) * (20 - np.sqrt((radius + t) ** 2 - (half + t) ** 2))).mean()
    rim = ((1 - t) * (radius + t) * 2 * (PI - np.arcsin((half + t) / (radius + t)))).mean()
    assert stage.result == EXACT
    assert removals(stage) == pytest.approx([side, side, rim], rel=REL)
