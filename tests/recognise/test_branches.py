"""Slots of one depth that cross, with others that end in one of them, or that leave the part where they cross."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

ALONG, ACROSS = box((-1, 16, 10), (101, 24, 21)), box((26, -1, 10), (34, 61, 21))
SLOTS = [(60, 8), (100, 8)]


def aslant(x: float, y: float, degrees: float, width: float) -> Body:
    """A slot of 200 about a place, at an angle to X."""
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf

    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(x, y, 0), gp_Dir(0, 0, 1)), math.radians(degrees))
    tool = box((x - 100, y - width / 2, 10), (x + 100, y + width / 2, 21))
    return Body(BRepBuilderAPI_Transform(tool.wrapped, turn, True).Shape())


def recesses(*tools: Body) -> list[Feature]:
    found = recognise(cut(block(), list(tools)))
    return sorted((f for f in found if f.class_ not in ("planar_face", "profile_feature")), key=lambda f: f.length or 0)


def sizes(found: list[Feature]) -> list[tuple[float, float]]:
    assert {f.depth for f in found} == {10}
    return [(round(f.length or 0, 3), round(f.width or 0, 3)) for f in found]


@pytest.mark.parametrize(
    ("branch", "wanted", "class_", "ends"),
    [
        ([box((66, 20, 10), (74, 50, 21))], (26, 8), "slot", "open flat"),
        ([box((66, 20, 10), (74, 50, 21)), drill(70, 50, 10, 21, 8)], (30, 8), "slot", "open radiused"),
        ([box((66, 20, 10), (74, 61, 21))], (36, 8), "slot", "open open"),
        ([box((30, 40, 10), (101, 48, 21))], (66, 8), "slot", "open open"),
        ([box((66, 20, 10), (74, 35, 21))], (11, 8), "open_pocket", None),  # less than twice as long as wide
    ],
)
def test_a_slot_that_ends_in_one_of_two_that_cross_begins_at_its_wall(
    branch: list[Body], wanted: tuple[float, float], class_: str, ends: str | None
) -> None:
    found = recesses(ALONG, ACROSS, *branch)
    assert sizes(found) == sorted([wanted, *SLOTS])
    (third,) = (f for f in found if (f.length, f.width) == pytest.approx(wanted))
    assert (third.class_, third.ends, third.open_sides) == (class_, ends, ends.count("open") if ends else 1)
    assert {f.ends for f in found if f is not third} == {"open open"}


def test_branches_stay_however_the_part_is_written() -> None:
    body = cut(block(), [ALONG, ACROSS, box((66, 20, 10), (74, 50, 21)), box((80, -1, 10), (88, 20, 21))])
    assert len([f for f in recognise(body) if f.class_ == "slot"]) == 4
    same_when_rewritten(body, 3)


@pytest.mark.parametrize(
    "aside",
    [
        aslant(70, 30, 30, 8),  # runs out of the end of the one across, which has one wall there
        aslant(5, 5, -45, 6),
        aslant(60, 30, 40, 6),
    ],
)
def test_three_slots_that_cross_where_one_leaves_the_part_are_three(aside: Body) -> None:
    """The corner between them is no boss, nor all of it one pocket."""
    found = recesses(ALONG, ACROSS, aside)
    assert [f.class_ for f in found] == ["slot"] * 3
    assert set(SLOTS) <= set(sizes(found))


def test_blind_slots_that_end_in_one_line_are_each_its_own() -> None:
    found = recesses(ALONG, box((40, 5, 10), (48, 50, 21)), box((60, 10, 10), (70, 50, 21)))
    assert sizes(found) == [(40, 10), (45, 8), (100, 8)]
    assert [f.class_ for f in found] == ["closed_pocket", "closed_pocket", "slot"]


def test_a_path_that_winds_to_and_fro_is_one_pocket() -> None:
    """Five runs of 6, 10 apart, joined at their ends: in no bend of it do two walls face each other over air alone."""
    runs = [box((12, y - 3, 10), (88, y + 3, 21)) for y in range(10, 60, 10)]
    bends = [
        box((x - 3, y - 3, 10), (x + 3, y + 13, 21)) for x, y in zip((88, 12, 88, 12), range(10, 50, 10), strict=True)
    ]
    found = recesses(*runs, *bends)
    assert [f.class_ for f in found] == ["closed_pocket"] and sizes(found) == [(82, 46)]
