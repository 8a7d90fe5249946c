"""Moving and turning part, blank and setup together changes no volume (relative 1e-7)."""

from __future__ import annotations

import math
from typing import Any

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

from examples.shapes import Shape, box, chamfer_ring, cone, cut, cylinder, drill, rounded_block
from tests.support.trial import plan, removals, setup, stages_of, step, step_bytes, to_be, tool

REL = 1e-7
FINISH = "bottom_and_side_finish_milling"


def part() -> Shape:
    """A bit of everything: pocket with island, step, slot, holes, chamfered rim."""
    body = chamfer_ring(rounded_block((-50, -40, -30), (50, 40, 0), 8), 0, 1)
    pocket = cut(rounded_block((-30, -20, -12), (20, 15, 1), 5), cylinder((-5, 0, -12), (-5, 0, -4), 12))
    return cut(
        body,
        pocket,
        box((30, -60, -6), (60, 60, 1)),
        box((-20, 24, -9), (-10, 60, 1)),
        drill((40, 20, 0), (40, 20, -20), 8),
        cylinder((40, -20, -31), (40, -20, 0), 6.6),
        cylinder((40, -20, -10), (40, -20, 0), 11),
        cone((-40, -30, 0), (-40, -30, -4), 12, 4),
        cylinder((-40, -30, -31), (-40, -30, 0), 5),
    )


def steps() -> list[dict[str, Any]]:
    return [
        step("plane_finish_milling", tool("facemill", 50), {"class": "planar_face", "at": [-40, 0, 0]}),
        step("side_rough_milling", tool("endmill", 16), {"class": "profile_feature"}, allowance_side=0.4),
        step(FINISH, tool("bullnose_endmill", 8, RE=1), {"class": "closed_pocket"}),
        step(FINISH, tool("endmill", 16), {"class": "step"}),
        step(FINISH, tool("endmill", 8), {"at": [-15, 30, -9]}),
        step("drilling", tool("twist_drill", 8, SIG=118), {"class": "round_hole", "diameter": 8}),
        step("drilling", tool("twist_drill", 6.6, SIG=140), {"class": "round_hole", "diameter": 6.6}, overcut_length=1),
        step("counter_sinking", tool("counterbore", 11), {"class": "round_hole", "diameter": 11}),
        step("center_drilling", tool("spotdrill", 10, SIG=90), {"class": "round_hole", "diameter": 5}),
        step("chamfering", tool("chamfer_mill", 10, SIG=90, tip_diameter=2), {"class": "chamfer"}),
    ]


def trial(motion: gp_Trsf | None) -> tuple[float, list[float]]:
    """Volume left and volume of each removal, with everything under the motion."""
    moved, blank = part(), box((-53, -43, -30), (53, 43, 2))
    origin, axis, ref = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
    if motion is not None:
        moved, blank = (BRepBuilderAPI_Transform(s, motion, True).Shape() for s in (moved, blank))
        origin = _xyz(gp_Pnt(0, 0, 0).Transformed(motion))
        axis = _xyz(gp_Dir(0, 0, 1).Transformed(motion))
        ref = _xyz(gp_Dir(1, 0, 0).Transformed(motion))
    works = steps()
    for work in works:
        work["features"] = [f | {"at": _moved(f["at"], motion)} if "at" in f else f for f in work["features"]]
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 150, "jaw_height": 45, "parallel_height": 35}
    one = setup(works, axis=axis, ref_direction=list(ref), location=list(origin), workholding=vise)
    (stage,) = stages_of(moved, plan({"step": "BLANK"}, one), {"BLANK": step_bytes(blank)})
    return to_be(stage), removals(stage)


def _moved(at: list[float], motion: gp_Trsf | None) -> list[float]:
    return list(_xyz(gp_Pnt(*at).Transformed(motion))) if motion is not None else at


def _xyz(value: gp_Pnt | gp_Dir) -> tuple[float, float, float]:
    return (value.X(), value.Y(), value.Z())


def turned(axis: tuple[float, float, float], degrees: float, shift: tuple[float, float, float]) -> gp_Trsf:
    motion = gp_Trsf()
    motion.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), math.radians(degrees))
    motion.SetTranslationPart(gp_Vec(*shift))
    return motion


@pytest.fixture(scope="module")
def upright() -> tuple[float, list[float]]:
    return trial(None)


def test_the_upright_trial_cuts_with_every_step(upright: tuple[float, list[float]]) -> None:
    assert all(volume > 1 for volume in upright[1])


@pytest.mark.parametrize(
    "motion",
    [
        turned((0, 0, 1), 90, (0, 0, 0)),
        turned((1, 0, 0), 180, (10, -20, 5)),
        turned((1, 0, 0), 90, (0, 0, 0)),
        turned((1, 2, 3), 40, (137, -52, 88)),
        turned((3, -1, 2), 200, (1000, 500, -300)),
    ],
    ids=["quarter", "flip", "side", "skew", "far"],
)
def test_a_rigid_motion_changes_no_volume(motion: gp_Trsf, upright: tuple[float, list[float]]) -> None:
    left, taken = trial(motion)
    assert left == pytest.approx(upright[0], rel=REL)
    assert taken == pytest.approx(upright[1], rel=REL, abs=1e-5)
