"""Jaws that close on what the setup cuts away: a carrier that stands out above the part, upside down."""

from __future__ import annotations

import copy

import pytest

from tests.support.block import as_step, solid_block, told
from tests.support.trial import Json, plan, raw_box, setup, step, tool

MILL = tool("endmill", 12, APMX=40)
VISE: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "parallel_height": 30, "jaw_height": 55}


def _upside_down(held: Json) -> Json:
    """60 x 40 x 20, cut round from above half a millimetre into a carrier 2 mm wider and 10 high; then the carrier."""
    first = setup(
        [step("side_finish_milling", MILL, {"class": "profile_feature", "axis": [0, 0, 1]}, bottom_z=-20.5)],
        workholding={**VISE, "jaw_height": 36},
    )
    below = step("plane_finish_milling", MILL, {"class": "planar_face", "normal": [0, 0, -1]})
    second = setup([below], axis=(0, 0, -1), workholding=held)
    return plan(raw_box((-2, -2, -10), (62, 42, 20)), first, second)


@pytest.mark.parametrize(
    ("jaws", "key", "value"), [({}, "jaw_height", 50.0), ({"jaws": "soft", "nest_depth": 25}, "nest_depth", 20.0)]
)
def test_jaws_on_the_carrier_are_told_to_end_below_it(jaws: Json, key: str, value: float) -> None:
    """On parallels of 30 the part's own 20 end at 50, as deep as the step goes; the carrier begins at 50.5."""
    wrong = _upside_down({**VISE, **jaws})
    (found,) = [f for f in told(wrong, as_step(solid_block())) if f.code == "hold.released"]
    assert found.remedy is not None and found.remedy.pointer == f"/setups/1/workholding/{key}"
    assert found.remedy.value == pytest.approx(value)
    mended = copy.deepcopy(wrong)
    mended["setups"][1]["workholding"][key] = found.remedy.value
    assert [f.code for f in told(mended, as_step(solid_block())) if f.level == "error"] == []
