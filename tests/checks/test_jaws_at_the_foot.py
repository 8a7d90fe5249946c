"""An outline whose foot the jaws bar: what stands above them is cut all the same, twice alike (closed form)."""

from __future__ import annotations

import json

import pytest

from examples.shapes import box
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan

VISE: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 60, "jaw_height": 40, "parallel_height": 34}


@pytest.mark.parametrize("feature", [{"class": "profile_feature"}, {"class": "planar_face", "normal": [0, -1, 0]}])
def test_above_the_jaws_the_outline_is_cut(feature: Json) -> None:
    """A plate of 40 x 10 x 30 in a blank of 44 x 14 x 34, gripped 6 high: the jaws stand to 2 above the part's bottom,
    14 apart and farther out than the blank, so no cutter of 20 comes to the foot. It takes what lies above them."""
    document = plan(
        raw_box((-2, -2, -4), (42, 12, 30)),
        setup([step("side_finish_milling", tool("endmill", 20), feature)], location=[0, 0, 30], workholding=VISE),
    )
    report = check_plan(step_bytes(box((0, 0, 0), (40, 10, 30))), json.dumps(document).encode(), {}).report
    round_it = 44 * 14 - 40 * 10 if feature["class"] == "profile_feature" else 44 * 2
    assert report.setups[0].workingsteps[0].removal == pytest.approx(round_it * (30 - 2), rel=1e-6)
    assert "evidence.disagreement" not in {f.code for f in report.findings}
    assert "left.stock" in {f.code for f in report.findings}
