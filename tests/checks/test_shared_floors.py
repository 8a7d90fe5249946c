"""Recesses that share a floor: fillets where they cross, and which of them is told as unfinished (closed forms)."""

from __future__ import annotations

import json
import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse
from schemas.report import Report
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan

FINISH = "bottom_and_side_finish_milling"
BLOCK = box((0, 0, 0), (100, 80, 30))
VISE: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 120, "jaw_height": 40, "parallel_height": 30}
ALONG_X, ALONG_Y = {"class": "slot", "at": [20, 40, 20]}, {"class": "slot", "at": [50, 10, 20]}


def _report(part: Shape, *steps: Json) -> Report:
    document = plan(raw_box((0, 0, 0), (100, 80, 30)), setup(list(steps), location=[0, 0, 30], workholding=VISE))
    return check_plan(step_bytes(part), json.dumps(document).encode(), {}).report


def _told(report: Report) -> dict[str, tuple[str, ...]]:
    return {f.code: f.features for f in report.findings if f.level != "note"}


def _trough(r: float, *, along_x: bool) -> Shape:
    """A slot 10 wide and 10 deep through the block, its floor's edges with that radius."""
    low, high = (-1, 35), (101, 45)
    pieces = []
    for inset, z in ((0.0, 20 + r), (r, 20)):
        corners = [(low[0], low[1] + inset, z), (high[0], high[1] - inset, 31)]
        pieces.append(box(*corners) if along_x else box(*((y + 10, x, z) for x, y, z in corners)))
    for y in (35 + r, 45 - r):
        ends = [(-1, y, 20 + r), (101, y, 20 + r)]
        a, b = ends if along_x else [(p[1] + 10, p[0], p[2]) for p in ends]
        pieces.append(cylinder(a, b, 2 * r))
    return fuse(*pieces)


def test_fillets_that_cross_come_out_whole() -> None:
    """A bull-nose cutter of the fillets' radius clears the whole of each trough, through the crossing too: 100 times
    100 less two corners of r^2 (1 - pi / 4). What stays of the first step is the other trough's alone."""
    part = cut(BLOCK, _trough(2, along_x=True), _trough(2, along_x=False))
    mill = {**tool("bullnose_endmill", 8, RE=2, APMX=30), "stickout": 60}
    report = _report(part, step(FINISH, mill, ALONG_X), step(FINISH, mill, ALONG_Y))
    first = report.setups[0].workingsteps[0]
    assert first.removal == pytest.approx(100 * (100 - 2 * 4 * (1 - math.pi / 4)), rel=1e-6)
    assert _told(report) == {}
    (other,) = {features for code, features in _told(_report(part, step(FINISH, mill, ALONG_X))).items()}
    assert len(other) == 1


def test_what_stands_in_a_pocket_is_not_told_of_the_slot_through_it() -> None:
    """A pocket of 41 x 40, open at x = 100, round corners of 4; a slot of 10 across it, of the same depth. The slot's
    step leaves the pocket's two ends: 15 and 15 wide, less the corners."""
    rounds = [cylinder((64, y, 20), (64, y, 31), 8) for y in (24, 56)]
    pocket = fuse(box((60, 24, 20), (101, 56, 31)), box((64, 20, 20), (101, 60, 31)), *rounds)
    part = cut(BLOCK, pocket, box((75, -1, 20), (85, 81, 31)))
    mill = {**tool("endmill", 8, APMX=30), "stickout": 60}
    report = _report(part, step(FINISH, mill, {"class": "slot"}))
    assert report.residual.volume == pytest.approx(10 * (2 * 15 * 40 - 2 * 16 * (1 - math.pi / 4)), rel=1e-6)
    told = _told(report)
    assert set(told) == {"left.feature", "left.stock"}
    assert all(len(features) == 1 and features[0].startswith("open_pocket") for features in told.values())
    assert {features for lump in report.residual.lumps for features in lump.features} == set(told["left.stock"])
