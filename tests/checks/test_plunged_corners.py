"""Tools with a round corner that are plunged: what they leave at a hole's floor, and what they make of a fillet."""

from __future__ import annotations

import json
import math

import pytest

from schemas.base import Frame
from schemas.report import Report
from tests.support.block import as_step
from tests.support.trial import plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body
from worker.pipeline import check_plan

BLOCK = solid.box((0, 0, 0), (60, 40, 30))


def _hole(fillet: float = 0.0) -> Body:
    """A hole of 10 in the block, 15 deep, its floor's edge with that radius."""
    inner = 5 - fillet
    bow = fillet * (1 - math.sqrt(0.5))
    edge = [(inner, 15.0), (5.0, 15 + fillet, 5 - bow, 15 + bow)] if fillet else [(5.0, 15.0)]
    turned = solid.revolve_profile([(0.0, 15.0), *edge, (5.0, 31.0), (0.0, 31.0)], Frame(location=(30, 20, 0)))
    return boolean.cut(BLOCK, [turned])


def _report(part: Body, *cutters: tuple[str, float]) -> Report:
    """Plunged with a bull-nose cutter or an end mill ("bullnose_endmill", RE), one after the other."""
    hole = {"class": "round_hole"}
    mills = [{**tool(kind, 10, APMX=30), **({"RE": c} if c else {}), "stickout": 60} for kind, c in cutters]
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 40, "parallel_height": 30}
    steps = [step("drilling", mill, hole) for mill in mills]
    document = plan(raw_box((0, 0, 0), (60, 40, 30)), setup(steps, location=[0, 0, 30], workholding=vise))
    return check_plan(as_step(part), json.dumps(document).encode(), {}).report


def test_a_plunged_bull_nose_leaves_its_corner() -> None:
    """A ring of section c^2 (1 - pi / 4), its centroid c (10 - 3 pi) / (12 - 3 pi) within the wall (Pappus)."""
    report = _report(_hole(), ("bullnose_endmill", 2.0))
    outwards = 2 * (10 - 3 * math.pi) / (12 - 3 * math.pi)
    assert report.residual.volume == pytest.approx(2 * math.pi * (5 - outwards) * 4 * (1 - math.pi / 4), rel=1e-4)
    told = {f.code for f in report.findings if f.level != "note"}
    assert told == {"fit.floor-radius", "left.stock"}


def test_a_square_cutter_after_it_takes_the_corner() -> None:
    report = _report(_hole(), ("bullnose_endmill", 2.0), ("endmill", 0.0))
    assert {f.code for f in report.findings if f.level != "note"} == set()


def test_a_plunged_bull_nose_makes_its_own_fillet() -> None:
    assert {f.code for f in _report(_hole(2.0), ("bullnose_endmill", 2.0)).findings if f.level != "note"} == set()
    assert "fit.floor-radius" in {f.code for f in _report(_hole(2.0), ("bullnose_endmill", 1.0)).findings}
