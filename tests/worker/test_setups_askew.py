"""Setups whose directions are written with few digits, or sloppily: meant for a face, or refused with the way to write.

A block's faces lie along its axes: what is meant is known. A tilt of 0.0001 is 0.0057 degrees, of 0.001 0.057.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import box, cut, polygon, prism
from schemas.problem import Problem
from tests.support.agreed import agreed
from tests.support.block import block, told
from tests.support.block import sound as sound_plan
from tests.support.trial import Json, inputs, plan, raw_box, removals, setup, step, tool

SLOPPY = 1e-4


def _pocket(axis: list[float], ref: list[float]) -> Json:
    works = [step("bottom_and_side_finish_milling", tool("endmill", 8), {"class": "slot"})]
    return plan(raw_box((-20, -15, -10), (20, 15, 0)), setup(works, axis, ref_direction=ref))


@pytest.mark.parametrize(
    ("axis", "ref"),
    [([SLOPPY, 0, 1], [1, 0, 0]), ([3e-5, 2e-5, 0.999999], [0.999999, 2e-5, 0]), ([0, 0, 1], [1, SLOPPY, 0])],
)
def test_a_direction_within_the_tolerance_of_a_face_is_that_face_s(axis: list[float], ref: list[float]) -> None:
    part = cut(box((-20, -15, -10), (20, 15, 0)), box((-20, -5, -4), (20, 5, 0)))
    stage = agreed(part, _pocket(axis, ref))
    assert removals(stage)[0] == pytest.approx(40 * 10 * 4, rel=1e-9)
    assert (stage.frame.z, stage.frame.x) == ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0))


@pytest.mark.parametrize("digits", [6, 9])
def test_a_leaning_face_is_meant_by_so_many_digits(digits: int) -> None:
    """A corner cut off at 20 degrees; the sine and cosine of its normal are cut off after these. The setup stands as
    the face does to the last digit: walls as little askew as features' own directions are rounded broke booleans."""
    turn = math.radians(20)
    normal = (math.sin(turn), 0.0, math.cos(turn))
    wedge = prism(
        polygon([(10, -1, 1), (10, -1, 0), (10 + 31 * math.cos(turn), -1, -31 * math.sin(turn)), (50, -1, 1)]),
        (0, 22, 0),
    )
    face = step("plane_finish_milling", tool("endmill", 20), {"class": "planar_face", "normal": list(normal)})
    sloppy = [round(c, digits) for c in normal]
    document = plan(raw_box((0, 0, -30), (39, 20, 0)), setup([face], sloppy, ref_direction=[0, 1, 0]))
    found = inputs(cut(box((0, 0, -30), (39, 20, 0)), wedge), document).plan.setups[0].origin
    assert sloppy != pytest.approx(normal, abs=0.02 * 10**-digits)
    assert found.axis == pytest.approx(normal, abs=1e-12)  # the digits that STEP carries


@pytest.mark.parametrize(("key", "way"), [("axis", [0.001, 0, 1]), ("ref_direction", [1, 0.001, 0])])
def test_a_direction_a_hair_askew_is_refused_with_the_one_to_write(key: str, way: list[float]) -> None:
    document = sound_plan()
    document["setups"][0]["origin"][key] = way
    with pytest.raises(Problem) as problem:
        told(document, block())
    right = "[0, 0, 1]" if key == "axis" else "[1, 0, 0]"
    assert problem.value.pointer == f"/setups/0/origin/{key}"
    assert right in (problem.value.remedy or "")
