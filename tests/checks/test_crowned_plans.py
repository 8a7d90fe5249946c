"""A bar's crown, roughed in levels and followed by a ball in one vise: the sound plan passes, others are told.

The crown's edge lies 25.83 mm high, where its normal is 0.917 high: a ball of 5 mm comes 0.42 mm lower than the edge.
"""

from __future__ import annotations

import json

import pytest

from examples.shapes import Shape, ball, box, common, cut, cylinder, fuse
from schemas.report import Report
from tests.support.block import VISE
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan

ROUGH, FOLLOW = "bottom_and_side_rough_milling", "freeform_operation"
BALL: Json = {"stickout": 40, "APMX": 30}


def crowned() -> Shape:
    return common(box((0, -20, 0), (60, 20, 30)), cylinder((0, 0, -20), (60, 0, -20), 100))


def domed() -> Shape:
    """A cap of 6 mm on a block, its foot beside the flat."""
    radius = (15**2 + 6**2) / 12
    cap = common(cylinder((0, 0, 18), (0, 0, 30), 30), ball((0, 0, 26 - radius), radius))
    return fuse(box((-30, -30, 0), (30, 30, 20)), cap)


def report_of(part: Shape, steps: list[Json], blank: Json, **vise: float) -> Report:
    document = plan(blank, setup(steps, workholding={**VISE, **vise}))
    document["workpiece"]["material"] = {"name": "aluminium", "iso513_group": "N"}
    return check_plan(step_bytes(part), json.dumps(document).encode(), {}).report


def crown_steps(follower: Json, named: Json) -> list[Json]:
    rough = step(
        ROUGH, tool("endmill", 12, stickout=45, APMX=30), named,
        allowance_side=0.3, allowance_bottom=0.2, technology={"axial_cutting_depth": 2},
    )  # fmt: skip
    return [rough, step(FOLLOW, follower, named)]


def errors(report: Report) -> set[tuple[str, str | None]]:
    return {(f.code, f.workingstep) for f in report.findings if f.level == "error"}


BLANK = raw_box((0, -20, 0), (60, 20, 32))


@pytest.mark.parametrize("named", [{"class": "profile_feature", "axis": [1, 0, 0]}, {"at": [30, 0, 30]}])
def test_the_sound_plan_passes(named: Json) -> None:
    """The jaws reach 6 mm up the sides of the contour, of which the steps cut nothing."""
    report = report_of(crowned(), crown_steps(tool("ballnose_endmill", 10, **BALL), named), BLANK)
    assert errors(report) == set()
    assert report.verdict == "pass"


@pytest.mark.parametrize(
    ("follower", "vise"),
    [(tool("endmill", 10, **BALL), {}), (tool("ballnose_endmill", 10, **BALL), {"jaw_height": 55.7})],
)
def test_a_plan_that_is_not_is_told(follower: Json, vise: dict[str, float]) -> None:
    """A cutter that follows nothing that leans; jaws that end a tenth of a millimetre below the crown's edge."""
    named: Json = {"class": "profile_feature", "axis": [1, 0, 0]}
    found = errors(report_of(crowned(), crown_steps(follower, named), BLANK, **vise))
    assert found == {("left.stock", "20")}


def test_what_the_ball_leaves_at_a_domes_foot_is_told_of_the_dome() -> None:
    top: Json = {"class": "planar_face", "at": [25, 25, 20]}
    face = step("plane_finish_milling", tool("endmill", 12, stickout=45, APMX=30), top)
    follow = step(FOLLOW, tool("ballnose_endmill", 10, **BALL), {"class": "boss"})
    report = report_of(domed(), [face, follow], raw_box((-30, -30, 0), (30, 30, 28)))
    assert errors(report) == {("left.stock", "20")}
    (lump,) = report.residual.lumps
    assert any(id.startswith("boss") for id in lump.features)


def test_an_edge_round_whose_ball_would_run_into_the_jaws_is_told() -> None:
    """Of a round of 8 mm down to 22 mm a ball of 5 comes down to 17: three millimetres into jaws that end at 20."""
    off = cut(box((-1, 12, 22), (61, 21, 31)), cylinder((-2, 12, 22), (62, 12, 22), 16))
    part = cut(box((0, -20, 0), (60, 20, 30)), off)
    steps = [step(FOLLOW, tool("ballnose_endmill", 10, **BALL), {"class": "edge_round"})]
    assert errors(report_of(part, steps, raw_box((0, -20, 0), (60, 20, 30)))) == set()
    assert errors(report_of(part, steps, raw_box((0, -20, 0), (60, 20, 30)), jaw_height=50)) == {("left.stock", "10")}


def test_of_a_boss_that_stands_upright_it_is_said_what_to_name_instead() -> None:
    part = fuse(box((-30, -30, 0), (30, 30, 20)), cylinder((0, 0, 20), (0, 0, 30), 20))
    follow = step(FOLLOW, tool("ballnose_endmill", 10, **BALL), {"class": "boss"})
    report = report_of(part, [follow], raw_box((-30, -30, 0), (30, 30, 32)))
    (found,) = (f for f in report.findings if f.code == "cut.nothing")
    assert found.remedy is not None and found.remedy.pointer == "/setups/0/workingsteps/0/features"
    assert "stands in" in found.remedy.text
