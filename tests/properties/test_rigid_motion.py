"""Moving and turning part, blank and plan together changes no volume (relative 1e-7) and no finding.

The faulty variant carries findings of several families along, so that not only silence is compared.
"""

from __future__ import annotations

import copy
import json
import math
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec

from examples.shapes import Shape, box
from tests.support.chain import chain_part, chain_plan
from tests.support.trial import Json, step_bytes
from worker.pipeline import check_plan

REL = 1e-7
Vec = tuple[float, float, float]


class Motion:
    """A turn about an axis through the origin, then a shift."""

    def __init__(self, axis: Vec, angle: float, shift: Vec) -> None:
        turn, move = gp_Trsf(), gp_Trsf()
        turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), math.radians(angle))
        move.SetTranslation(gp_Vec(*shift))
        self.trsf = move.Multiplied(turn)

    def shape(self, shape: Shape) -> Shape:
        return BRepBuilderAPI_Transform(shape, self.trsf, True).Shape()

    def point(self, p: list[float]) -> list[float]:
        moved = gp_Pnt(*p).Transformed(self.trsf)
        return [moved.X(), moved.Y(), moved.Z()]

    def direction(self, d: list[float]) -> list[float]:
        moved = gp_Dir(*d).Transformed(self.trsf)
        return [moved.X(), moved.Y(), moved.Z()]

    def plan(self, plan: Json) -> Json:
        moved = copy.deepcopy(plan)
        for setup in moved["setups"]:
            origin = setup["origin"]
            origin["location"] = self.point(origin["location"])
            origin["axis"] = self.direction(origin["axis"])
            origin["ref_direction"] = self.direction(origin["ref_direction"])
            for work in setup["workingsteps"]:
                for selector in work["features"]:
                    if "normal" in selector:
                        selector["normal"] = self.direction(selector["normal"])
        return moved


VISE: Json = {
    "type": "vise",
    "jaw_axis": "Y",
    "jaw_width": 150,
    "jaw_height": 46,
    "parallel_height": 40,
    "parallel_thickness": 3,
    "max_opening": 180,
    "clamping_force": 20000,
    "jaw_surface": "smooth",
}


def held_plan(faulty: bool) -> Json:
    """The two-setup chain in a vise, blank as a STEP file; faulty: too deep, too short, nothing gripped."""
    plan = chain_plan()
    plan["workpiece"] = {"rawpiece": {"step": "blank"}}
    top, bottom = plan["setups"]
    top["origin"]["location"], bottom["origin"]["location"] = [0, 0, 0], [0, 0, -30]
    top["workholding"], bottom["workholding"] = dict(VISE), dict(VISE)
    if faulty:
        top["workingsteps"][1]["bottom_z"] = -15.5
        top["workholding"]["jaw_height"] = 41
        bottom["workingsteps"][1]["overcut_length"] = 45
        bottom["origin"]["location"] = [0, 0, 10]
    return plan


def outcome(motion: Motion | None, faulty: bool) -> tuple[list[float], list[Any]]:
    part, blank, plan = chain_part(), box((-52, -32, -32), (52, 32, 2)), held_plan(faulty)
    if motion is not None:
        part, blank, plan = motion.shape(part), motion.shape(blank), motion.plan(plan)
    report = check_plan(step_bytes(part), json.dumps(plan).encode(), {"blank": step_bytes(blank)}).report
    told = sorted((f.code, f.level, f.setup or "", f.workingstep or "") for f in report.findings)
    return [s.to_be.volume for s in report.setups], told


@cache
def at_home(faulty: bool) -> tuple[list[float], list[Any]]:
    return outcome(None, faulty)


def test_the_faulty_variant_has_findings_of_several_families() -> None:
    families = {code.split(".")[0] for code, _, _, _ in at_home(True)[1]}
    assert {"cut", "hold", "depth", "datum"} <= families
    assert at_home(False)[1] == [] or {level for _, level, _, _ in at_home(False)[1]} == {"note"}


DRAW = (Phase.explicit, Phase.generate)  # no shrinking: each case is a whole check
units = st.sampled_from([(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (1.0, 1.0, 0.0), (1.0, 2.0, 3.0), (-0.3, 0.1, 0.9)])
angles = st.one_of(st.sampled_from([90.0, 180.0, -90.0, 45.0]), st.floats(-180, 180).map(lambda a: round(a, 3)))
shifts = st.tuples(*[st.floats(-500, 500).map(lambda a: round(a, 3))] * 3)


@settings(max_examples=5, deadline=None, derandomize=True, phases=DRAW, suppress_health_check=list(HealthCheck))
@given(axis=units, angle=angles, shift=shifts, faulty=st.booleans())
def test_moving_part_and_plan_together_changes_nothing(axis: Vec, angle: float, shift: Vec, faulty: bool) -> None:
    volumes, told = outcome(Motion(axis, angle, shift), faulty)
    assert volumes == pytest.approx(at_home(faulty)[0], rel=REL)
    assert told == at_home(faulty)[1]


@pytest.mark.parametrize("axis", [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)])
def test_quarter_turns_about_each_axis_change_nothing(axis: Vec) -> None:
    volumes, told = outcome(Motion(axis, 90.0, (10.0, -20.0, 30.0)), True)
    assert volumes == pytest.approx(at_home(True)[0], rel=REL)
    assert told == at_home(True)[1]
