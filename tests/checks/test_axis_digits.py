"""A slope of 30 degrees, faced and bored square to it in a setup whose axis is written with so many digits.

cos 30 degrees = 0.8660254...: with six digits the cut leans against the face by 3e-7 rad, 0.02 um at its ends.
"""

from __future__ import annotations

import json
import math

import pytest

from examples.shapes import Shape, box, cut, cylinder, polygon, prism
from tests.support.trial import plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan

SLOPE, X, Y, Z = math.radians(30), 60.0, 40.0, 30.0
MIDDLE = (45.0, 20.0, Z - 15 * math.tan(SLOPE))
"""Of the slope, which falls from half the block's length on."""


def sloped_block() -> Shape:
    low = Z - (X / 2 + 10) * math.tan(SLOPE)
    off = prism(polygon([(X / 2, -1, Z), (X + 10, -1, low), (X + 10, -1, Z)]), (0, Y + 2, 0))
    ends = [(MIDDLE[0] + k * math.sin(SLOPE), MIDDLE[1], MIDDLE[2] + k * math.cos(SLOPE)) for k in (-80.0, 20.0)]
    return cut(box((0, 0, 0), (X, Y, Z)), off, cylinder(ends[0], ends[1], 8))


@pytest.mark.parametrize("height", [math.cos(SLOPE), 0.8660254, 0.866025, 0.86603, 0.866])
def test_digits_of_an_axis_leave_nothing_on_the_part(height: float) -> None:
    face = step(
        "plane_finish_milling", tool("endmill", 16), {"class": "planar_face", "at": [MIDDLE[0], 10.0, MIDDLE[2]]}
    )
    bore = step("drilling", tool("twist_drill", 8, SIG=118, LU=100), {"class": "round_hole"}, overcut_length=10)
    tilted = setup([face, bore], axis=(0.5, 0, height), ref_direction=[0, 1, 0], location=list(MIDDLE))
    document = plan(raw_box((0, 0, 0), (X, Y, Z)), tilted)
    report = check_plan(step_bytes(sloped_block()), json.dumps(document).encode(), {}).report
    told = {f.code for f in report.findings if f.level == "error" and not f.code.startswith("hold.")}
    assert told == set()
