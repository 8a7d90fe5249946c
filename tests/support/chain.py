"""The two-setup chain of the check values: 104 x 64 x 34 faced on both sides, pocket, four holes."""

from __future__ import annotations

from examples.shapes import Shape, box, cut, cylinder, rounded_block
from tests.support.trial import Json, plan, raw_box, setup, step, tool

PLACES = ((-42.0, -25.0), (42.0, -25.0), (-42.0, 25.0), (42.0, 25.0))


def chain_part() -> Shape:
    """104 x 64 x 30 with a pocket 60 x 40 x 15 (corners R5) and four holes D6.6."""
    block = box((-52, -32, -30), (52, 32, 0))
    holes = [cylinder((x, y, -31), (x, y, 1), 6.6) for x, y in PLACES]
    return cut(block, rounded_block((-30, -20, -15), (30, 20, 1), 5), *holes)


def chain_plan() -> Json:
    face = tool("facemill", 50)
    top = setup(
        [
            step("plane_finish_milling", face, {"class": "planar_face", "normal": [0, 0, 1]}),
            step("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "closed_pocket"}),
        ]
    )
    drill = tool("twist_drill", 6.6, SIG=118)
    bottom = setup(
        [
            step("plane_finish_milling", face, {"class": "planar_face", "normal": [0, 0, -1]}),
            step("drilling", drill, {"class": "round_hole", "diameter": 6.6, "count": 4}, overcut_length=1),
        ],
        axis=[0, 0, -1],
    )
    return plan(raw_box((-52, -32, -32), (52, 32, 2)), top, bottom)
