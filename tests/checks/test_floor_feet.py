"""Walls that stand on a level floor, with a fillet at their feet and without one, under a cutter with a round corner.

Closed form: a corner of radius r leaves r^2 (1 - pi / 4) of a sharp foot's section, nothing at a fillet of its radius.
"""

from __future__ import annotations

import json
import math

import pytest

from examples.shapes import Shape, box, cut
from schemas.finding import Finding
from tests.support.filleted import filleted_at
from tests.support.trial import Json, plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan

LOW, HIGH = (-40, -30, -40), (40, 30, 0)
VISE = {
    "type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 50, "jaw_thickness": 20, "parallel_height": 35,
    "parallel_thickness": 5, "max_opening": 100, "clamping_force": 20000, "jaw_surface": "smooth",
}  # fmt: skip
SECTION = 3.0**2 * (1 - math.pi / 4)


def _slot(*filleted: int) -> Shape:
    """A slot through the top along x, 20 wide and 10 deep; a fillet of 3 at the foot of the walls at those sides."""
    plain = cut(box(LOW, HIGH), box((-41, -10, -10), (41, 10, 1)))
    return filleted_at(plain, 3.0, lambda _, y, z: abs(z + 10) < 1e-6 and any(abs(y - 10 * s) < 1e-6 for s in filleted))


def _island(fillet: float) -> Shape:
    """A block 20 square and 10 high on a level face, with a fillet round its foot."""
    around = cut(box((-41, -31, -10), (41, 31, 1)), box((-10, -10, -11), (10, 10, 1)))
    return filleted_at(
        cut(box(LOW, HIGH), around), fillet, lambda x, y, z: abs(z + 10) < 1e-6 and max(abs(x), abs(y)) < 11
    )


def _told(document: Json, shape: Shape) -> list[Finding]:
    """Findings above the level of a note, of both computations."""
    found = check_plan(step_bytes(shape), json.dumps(document).encode(), {}).report.findings
    return [f for f in found if f.level != "note"]


def _plan(where: Json) -> Json:
    cutter = tool("bullnose_endmill", 12, RE=3, APMX=20, LU=40, holder=[{"diameter": 30, "length": 40}])
    works = [step("bottom_and_side_finish_milling", cutter, where)]
    return plan(raw_box(LOW, HIGH), setup(works, workholding=VISE))


@pytest.mark.parametrize(("sides", "feet"), [((1, -1), 0), ((1,), 1)])
def test_a_foot_without_a_fillet_keeps_what_the_corner_leaves(sides: tuple[int, ...], feet: int) -> None:
    """By both computations: the fillet at the other side says nothing about this one."""
    found = _told(_plan({"class": "slot"}), _slot(*sides))
    assert [f.code for f in found] == ["left.stock"] * feet
    assert [f.measured for f in found] == [pytest.approx(80 * SECTION, abs=0.02)] * feet


@pytest.mark.parametrize("fillet", [3.0, 4.0])
def test_a_corner_that_fits_the_fillet_round_a_boss_leaves_nothing(fillet: float) -> None:
    where = {"class": "planar_face", "at": [30, 0, -10]}
    assert _told(_plan(where), _island(fillet)) == []
