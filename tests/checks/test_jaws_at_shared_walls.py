"""A hub's wall is the web's down to the web alone: jaws that hold the hub below it cover nothing; closed form."""

from __future__ import annotations

import json

from examples.shapes import Shape, box, cut, cylinder, fuse, merged
from schemas.finding import Finding
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan


def link() -> Shape:
    """A hub ø40 and a square end, 30 high; between them a web 24 wide, 8 below both faces."""
    ends = [cylinder((0, 0, 0), (0, 0, 30), 40), box((60, -20, 0), (90, 20, 30)), box((0, -12, 8), (80, 12, 22))]
    return cut(merged(fuse(*ends)), cylinder((0, 0, -1), (0, 0, 31), 20))


def covered(nest_depth: float) -> list[Finding]:
    """What stands over the web as it is cut from below, its bar held with the part's top on the nest's floor."""
    nest: Json = {"type": "vise", "jaws": "soft", "nest_depth": nest_depth, "jaw_axis": "Y", "jaw_width": 160}
    web = step("bottom_and_side_finish_milling", tool("endmill", 12), {"class": "step", "normal": [0, 0, -1]})
    under = setup([web], (0, 0, -1), workholding={**nest, "jaw_height": 40})
    report = check_plan(step_bytes(link()), json.dumps(plan(raw_box((-20, -20, 0), (90, 20, 30)), under)).encode(), {})
    return [f for f in report.report.findings if f.code == "access.covered"]


def test_jaws_below_the_web_cover_nothing() -> None:
    """Their top is at z = 22 of the part, upside down 14 below the web's floor at z = 8."""
    assert covered(nest_depth=8) == []


def test_jaws_beside_the_web_cover_it() -> None:
    """Their top is at z = 4, above the floor: they stand on the hub's wall where the cutter must go."""
    found = covered(nest_depth=26)
    assert found and all("jaw" in f.message and f.features[0].startswith("step") for f in found)
