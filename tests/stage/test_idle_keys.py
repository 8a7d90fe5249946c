"""Values that change nothing where they stand are said in the step's notes (contract: nothing is ignored silently)."""

from __future__ import annotations

from typing import Any

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from schemas.plan import Workingstep
from schemas.tool import Tool
from tests.support.hand_stage import part_of
from worker.kernel import primitives as solid
from worker.stage.idle_keys import idle_keys
from worker.stage.model import ResolvedStep

PART = part_of(solid.box((0, 0, 0), (1, 1, 1)))
UP = (0.0, 0.0, 1.0)
MILL = Tool(id="T", type="endmill", DC=6, APMX=20, stickout=40)
DRILL = Tool(id="T", type="twist_drill", DC=6, SIG=118, stickout=40)
TAP = Tool(id="T", type="tapping_cutting_tool", thread="M6", stickout=40)
BAR = Tool(id="T", type="rotating_boring_cutting_tool", DC=20, stickout=40)
FINISH, OVER = "bottom_and_side_finish_milling", {"overcut_length": 1.0}


def _notes(operation: str, tool: Tool, class_: str, bottom: str | None, **keys: Any) -> tuple[str, ...]:
    feature = Feature(id="x-1", class_=class_, faces=(), placement=Frame(), bottom=bottom)
    step = Workingstep(id="10", operation=operation, tool="T", features=("x-1",), **keys)
    return idle_keys(PART, ResolvedStep(0, step, tool, (feature,)), UP)


IDLE = [
    (("drilling", DRILL, "round_hole", "flat"), OVER, "open below"),
    ((FINISH, MILL, "closed_pocket", "planar"), OVER, "open below"),
    (("plane_finish_milling", MILL, "planar_face", None), OVER, "open below"),
    (("drilling", DRILL, "round_hole", "through"), OVER | {"bottom_z": -9.0}, "overcut_length"),
    (("drilling", DRILL, "round_hole", "through"), OVER | {"cutting_depth": 9.0}, "overcut_length"),
    ((FINISH, MILL, "closed_pocket", "planar"), {"bottom_z": -9.0, "allowance_bottom": 0.1}, "allowance_bottom"),
    (("drilling", DRILL, "round_hole", "flat"), {"technology": {"axial_cutting_depth": 2.0}}, "pecking"),
    (("drilling", DRILL, "round_hole", "flat"), {"technology": {"radial_cutting_depth": 2.0}}, "as wide as it is"),
    (("tapping", TAP, "round_hole", "flat"), {"technology": {"feed_per_tooth": 0.2}}, "pitch a turn"),
]


@pytest.mark.parametrize(("what", "keys", "said"), IDLE)
def test_a_value_that_does_nothing_is_said(what: tuple[str, Tool, str, str], keys: dict[str, Any], said: str) -> None:
    (note,) = _notes(*what, **keys)
    assert said in note


@pytest.mark.parametrize(
    ("what", "keys"),
    [
        (("drilling", DRILL, "round_hole", "through"), OVER),
        (("boring", BAR, "round_hole", "through"), {"technology": {"radial_cutting_depth": 0.5}}),
        ((FINISH, MILL, "closed_pocket", "through"), OVER),
        (("side_finish_milling", MILL, "profile_feature", None), OVER),
        ((FINISH, MILL, "closed_pocket", "planar"), {"bottom_z": -9.0, "allowance_side": 0.1}),
        (("freeform_operation", MILL, "region", None), {"bottom_z": -9.0, "allowance_bottom": 0.1}),
        ((FINISH, MILL, "closed_pocket", "planar"), {"technology": {"axial_cutting_depth": 2.0}}),
    ],
)
def test_a_value_that_does_something_is_not(what: tuple[str, Tool, str, str], keys: dict[str, Any]) -> None:
    assert _notes(*what, **keys) == ()
