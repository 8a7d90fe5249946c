"""Cutters without an edge at their centre: told where they must go straight down into metal, and nowhere else.

Facing cutters work from outside, from an open side or out of a start hole (common practice); a counterbore needs its
hole first.
"""

from __future__ import annotations

import functools

import pytest

from schemas.finding import Finding
from tests.support.block import as_step, told
from tests.support.trial import Json, plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body

BLOCK = ((0, 0, 0), (80, 60, 20))
FINISH, ROUGH = "bottom_and_side_finish_milling", "bottom_and_side_rough_milling"
FACING = tool("facemill", 20, APMX=8, LU=8)
POCKET, HOLE, BORE = {"class": "closed_pocket"}, {"class": "round_hole"}, {"class": "round_hole", "diameter": 6}
VISE: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 38, "parallel_height": 30}
SMALL = tool("endmill", 10, APMX=10, LU=12)


def _room(x0: float, x1: float, low: float = 14) -> Body:
    """40 mm wide, its corners round by 11."""
    inner = [solid.box((x0 + 11, 10, low), (x1 - 11, 50, 21)), solid.box((x0, 21, low), (x1, 39, 21))]
    corners = [(x, y) for x in (x0 + 11, x1 - 11) for y in (21, 39)]
    return boolean.fuse([*inner, *(solid.cylinder((x, y, low), (x, y, 21), 22) for x, y in corners)])


@functools.cache
def _part(name: str) -> bytes:
    holes = {
        "pocket": [_room(15, 65)],
        "pocket with a hole": [_room(15, 65), solid.cylinder((40, 30, -1), (40, 30, 21), 12)],
        "open": [_room(15, 120)],
        "counterbore": [solid.cylinder((40, 30, z), (40, 30, 21), d) for z, d in ((-1, 6), (14, 12))],
    }
    return as_step(boolean.cut(solid.box(*BLOCK), holes[name]))


def _plunges(part: str, *steps: Json, height: float = 20) -> list[Finding]:
    document = plan(raw_box((0, 0, 0), (80, 60, height)), setup(steps, location=[0, 0, 20], workholding=VISE))
    return [f for f in told(document, _part(part)) if f.code == "cut.plunge"]


DRILLED = step("drilling", tool("twist_drill", 12, LU=60), HOLE, overcut_length=1)
MILLED = step(FINISH, FACING, POCKET)
FREE = {
    "from outside": (
        "pocket",
        22,
        [step("plane_finish_milling", FACING, {"class": "planar_face", "normal": [0, 0, 1]})],
    ),
    "from an open side": ("open", 20, [step(FINISH, FACING, {"class": "open_pocket"})]),
    "out of a start hole": ("pocket with a hole", 20, [DRILLED, MILLED]),
    "after roughing": ("pocket", 20, [step(ROUGH, SMALL, POCKET, allowance_side=0.2, allowance_bottom=0.2), MILLED]),
    "an end mill": ("pocket", 20, [step(FINISH, tool("endmill", 20, APMX=8, LU=8), POCKET)]),
}


@pytest.mark.parametrize("name", FREE)
def test_a_way_in_is_found(name: str) -> None:
    part, height, steps = FREE[name]
    assert _plunges(part, *steps, height=height) == []


SHUT = {
    "no way in": ("pocket", [MILLED], 6.0),
    "the hole comes after": ("pocket with a hole", [MILLED, DRILLED], 6.0),
    "roughed half way": ("pocket", [step(ROUGH, SMALL, POCKET, allowance_bottom=2), MILLED], 2.0),
}


@pytest.mark.parametrize("name", SHUT)
def test_a_facing_cutter_that_is_shut_in_is_told_with_a_place_to_start(name: str) -> None:
    """The pocket is 6 deep; a point of its axis is 10 off the walls."""
    part, steps, depth = SHUT[name]
    (found,) = _plunges(part, *steps)
    assert (found.level, found.measured) == ("warning", pytest.approx(depth))
    assert found.features[0].startswith("closed_pocket")
    assert found.at is not None and 25 <= found.at.part[0] <= 55 and 20 <= found.at.part[1] <= 40
    assert found.remedy is not None and "start hole of at least ø 10 mm" in found.remedy.text
    assert found.remedy.value == ("T1" if SMALL in [one["cutter"] for one in steps] else None)


def test_a_counterbore_comes_after_its_hole() -> None:
    sunk = step("counter_sinking", tool("counterbore", 12, LU=40), {"class": "counterbore_hole"})
    drilled = step("drilling", tool("twist_drill", 6, LU=60), BORE, overcut_length=1)
    assert _plunges("counterbore", drilled, sunk) == []
    (found,) = _plunges("counterbore", sunk, drilled)
    assert found.workingstep == "10" and found.remedy is not None and "before step 10" in found.remedy.text
