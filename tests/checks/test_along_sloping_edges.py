"""Chamfering cutters along edges that climb: the flank lies on the chamfer along its lines of steepest fall.

A ledge 6 wide beside a wall, climbing 1 in 10 along X; its outer edge is broken from 1 in to 1 down. The chamfer's
normal is (-0.1, -1, 1), so the flank that fits has a half angle whose sine is 1 / sqrt(2.01), and a tip d below the
chamfer's lower edge runs d / 1.01 outside it in Y, 6 + d / 1.01 from the wall: closed forms by hand from that.
"""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from examples.shapes import Shape, box, cut, polygon, prism
from schemas.report import Report
from tests.checks.test_along_edges import HOLDER, told, vise
from tests.support.trial import Json, plan, setup, step, step_bytes, tool
from worker.pipeline import check_plan

LEDGE, CLIMB = 6.0, 0.1
FIRST, LAST = -14.0, -6.0
"""Heights of the ledge at its two ends; the wall's top is at 0."""
SIG = 2 * math.degrees(math.asin(1 / math.sqrt(2.01)))


def ledge(broken: bool) -> Shape:
    along = [(-41, -31, FIRST - CLIMB), (41, -31, LAST + CLIMB), (41, -31, 1), (-41, -31, 1)]
    block = cut(box((-40, -30, -40), (40, 30, 0)), prism(polygon(along), (0, 1 + LEDGE, 0)))
    if not broken:
        return block
    x, z = -41, FIRST - CLIMB
    corner = polygon([(x, -31, z), (x, -29, z), (x, -31, z - 2)])
    return cut(block, prism(corner, (82, 0, 82 * CLIMB)))


def checked(cutter: Json, jaws: float = -30.0, **keys: Any) -> Report:
    works = [step("chamfering", cutter, {"class": "chamfer"}, **keys)]
    document = plan({"step": "RAW"}, setup(works, workholding=vise(jaws)))
    files = {"RAW": step_bytes(ledge(broken=False))}
    return check_plan(step_bytes(ledge(broken=True)), json.dumps(document).encode(), files).report


def mill(**sizes: Any) -> Json:
    return {**tool("chamfer_mill", **{"DC": 16, "SIG": SIG, "LU": 30, **sizes}), "stickout": 60, "holder": HOLDER}


def test_a_cutter_with_room_takes_the_whole_chamfer() -> None:
    report = checked(mill())
    assert told(report) == {}
    assert report.setups[0].workingsteps[0].removal == pytest.approx(80 / 2, rel=1e-6)


def test_the_holder_is_measured_from_the_lowest_tip() -> None:
    """8 clear the wall when the tip runs 2.02 below the lower edge, at the low end 15 + 2.02 below the wall's top."""
    report = checked(mill())
    least = report.setups[0].workingsteps[0].least_stickout
    assert least == pytest.approx(max(1 - FIRST + 2 * 1.01, 30), abs=0.02)
    short = checked(mill(LU=10, APMX=10))
    assert short.setups[0].workingsteps[0].least_stickout == pytest.approx(1 - FIRST + 2 * 1.01, abs=0.02)
    tight = {**mill(LU=10), "stickout": 16.9}
    assert set(told(checked(tight))) == {"reach.stickout"}
    assert told(checked({**mill(LU=10), "stickout": 17.05})) == {}


def test_jaws_that_keep_the_tip_up_bring_the_cutter_into_the_wall() -> None:
    """Jaws 1 below the chamfer's low end: the tip runs 1 below it, so 6 + 1 / 1.01 is the largest radius."""
    widest = 2 * (LEDGE + 1 / 1.01)
    found = told(checked(mill(), jaws=FIRST - 2))
    assert set(found) == {"reach.shank"}
    finding = found["reach.shank"]
    assert finding.remedy is not None and finding.remedy.value == pytest.approx(widest, abs=0.02)
    assert told(checked(mill(DC=round(widest - 0.02, 2)), jaws=FIRST - 2)) == {}
    assert set(told(checked(mill(DC=round(widest + 0.06, 2)), jaws=FIRST - 2))) == {"reach.shank"}


def test_a_thick_shank_beside_the_wall_has_to_begin_above_it() -> None:
    """Its axis runs 8 from the wall, the tip at the low end 17.02 below the wall's top."""
    found = told(checked(mill(LU=9, DMM=20)))
    assert set(found) == {"reach.shank"}
    value = found["reach.shank"].remedy.value
    assert value == pytest.approx(1 - FIRST + 2 * 1.01, abs=0.03)
    assert told(checked(mill(LU=value, DMM=20))) == {}


def test_a_stated_depth_is_the_lowest_tip_and_climbs_along() -> None:
    """Half a diameter of 8 clears the wall from 2.02 below the lower edge on, which begins at -15."""
    assert told(checked(mill(), bottom_z=-18)) == {}
    found = told(checked(mill(), bottom_z=-16.5))
    assert set(found) == {"reach.shank"}
    remedy = found["reach.shank"].remedy
    assert remedy is not None and remedy.pointer == "/setups/0/workingsteps/0/bottom_z"
    assert remedy.value == pytest.approx(FIRST - 1 - 2 * 1.01, abs=0.02)
