"""Seal grooves that holes, slots and notches cut in several places are one groove, as long as drawn and where drawn."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket
from tests.support.agreed import agreed
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from tests.support.trial import cut_volume, plan, raw_box, setup, step, tool
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body


def frame(inset: float, corner: float) -> Body:
    """A groove 3 wide and 2 deep along the inside of a rectangle of 70 x 44, or less, with round corners."""
    outer = pocket((15 + inset, 8 + inset, 18), (85 - inset, 52 - inset, 21), corner)
    return cut(outer, [pocket((18 + inset, 11 + inset, 17), (82 - inset, 49 - inset, 22), corner - 3)])


RACETRACK = cut(obround(35, 65, 30, 18, 21, 34), [obround(35, 65, 30, 17, 22, 28)])
FOOT = box((-1, 20, 6), (101, 40, 12))
FRAME = frame(0, 6)
SIZES = {
    "racetrack": (RACETRACK, 2 * 30 + 31 * math.pi),
    "frame": (FRAME, 2 * (67 + 41) - (8 - 2 * math.pi) * 4.5),
}
"""The middle of each (mm): two straights and a circle of 31; a rectangle of 67 x 41 with corners of 4.5."""
CUTS = {
    ("racetrack", "holes"): [drill(42, 45.5, -1, 21, 8), drill(55, 14.5, -1, 21, 8)],
    ("racetrack", "hole at the tip and beside it"): [drill(19.5, 30, -1, 21, 8), drill(55, 14.5, -1, 21, 8)],
    ("racetrack", "three holes"): [drill(x, y, -1, 21, 8) for x, y in ((35, 45.5), (65, 14.5), (80.5, 30))],
    ("racetrack", "slot over the tip, notch"): [box((-1, 28, 14), (45, 32, 21)), box((70, -1, 14), (75, 15, 21))],
    ("frame", "holes"): [drill(50, 50.5, -1, 21, 8), drill(40, 9.5, -1, 21, 8)],
    ("frame", "corner holes"): [drill(18, 11, -1, 21, 10), drill(82, 49, -1, 21, 10)],
    ("frame", "holes, two on one side"): [drill(x, y, -1, 21, 9) for x, y in ((50, 48), (30, 48), (50, 12), (70, 12))],
}


def grooves(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.depth == pytest.approx(2)]


@pytest.mark.parametrize(("name", "cuts"), CUTS.items(), ids=[", ".join(name) for name in CUTS])
def test_a_groove_in_pieces_is_one(name: tuple[str, str], cuts: list[Body]) -> None:
    groove, length = SIZES[name[0]]
    cavity = box((44, 26, 10), (56, 34, 21))
    (whole,), (found,) = grooves(cut(block(), [groove, cavity])), grooves(cut(block(), [groove, cavity, *cuts]))
    assert (found.class_, found.ends, found.course_of_travel) == ("slot", "loop", "general")
    assert (found.width, found.length) == pytest.approx((3, length), abs=1e-4)
    assert found.placement.location == pytest.approx((50, 30, 20))
    assert (found.id, found.access, found.bosses) == (whole.id, whole.access, ())


def test_nested_grooves_and_grooves_side_by_side_stay_apart() -> None:
    nested = [FRAME, frame(8, 4), box((14, 6, 12), (30, 24, 21)), drill(55, 46.5, -1, 21, 16)]
    lengths = [SIZES["frame"][1], 2 * (51 + 25) - (8 - 2 * math.pi) * 2.5]
    assert sorted(f.length or 0 for f in grooves(cut(block(), nested))) == pytest.approx(sorted(lengths))
    tracks = [cut(obround(x, x + 14, 30, 18, 21, 30), [obround(x, x + 14, 30, 17, 22, 24)]) for x in (19, 67)]
    holes = [drill(x, 30, -1, 21, 9) for x in (46.5, 53.5)] + [drill(x, 43.5, -1, 21, 8) for x in (26, 74)]
    found = grooves(cut(block(), [*tracks, *holes]))
    assert [(f.ends, f.length) for f in found] == [("loop", pytest.approx(28 + 27 * math.pi))] * 2


def test_another_encoding_of_a_groove_in_pieces() -> None:
    same_when_rewritten(cut(block(), [RACETRACK, drill(19.5, 30, -1, 21, 8), drill(55, 14.5, -1, 21, 8)]), 1)


def turned_obround(turn: float) -> Body:
    """60 x 10 and 8 deep about the middle of the block, turned so many degrees from X."""
    arm = (math.cos(math.radians(turn)), math.sin(math.radians(turn)), 0.0)
    lie = Frame(location=(50, 30, 0), ref_direction=arm)
    ends = [cylinder(lie.to_world((x, 0, 12)), lie.to_world((x, 0, 21)), 10) for x in (-25.0, 25.0)]
    return fuse([box((-25, -5, 12), (25, 5, 21), lie), *ends])


@pytest.mark.parametrize("turn", [10, 20, 35, 70])
def test_an_obround_that_a_deeper_slot_crosses_askew(turn: float) -> None:
    """60 x 10, of whose two pieces each has one cheek and one end where the slot, 8 wide, runs nearly along it."""
    racetrack = turned_obround(turn)
    body = cut(block(), [racetrack, box((-1, 26, 8), (101, 34, 21))])
    (whole,) = [f for f in recognise(cut(block(), [racetrack])) if f.class_ == "slot"]
    (found,) = [f for f in recognise(body) if f.depth == pytest.approx(8)]
    assert (found.class_, found.ends, found.bosses, found.id) == ("slot", "radiused radiused", (), whole.id)
    assert (found.length, found.width) == pytest.approx((60, 10))
    assert {f.class_ for f in recognise(body)} == {"planar_face", "profile_feature", "slot"}


def test_what_a_slot_askew_divides_is_cut_within_its_own_walls() -> None:
    """A racetrack of 60 x 10, 8 deep, by a cutter of 9.9: the metal over the deeper slot beside it stays."""
    part = cut(block(), [turned_obround(20), box((-1, 26, 8), (101, 34, 21))]).wrapped
    work = step("bottom_and_side_rough_milling", tool("endmill", 9.9), {"class": "slot", "depth_max": 9})
    stage = agreed(part, plan(raw_box((0, 0, 0), (100, 60, 20)), setup([work])))
    assert cut_volume(stage.cuts[0]) == pytest.approx(8 * (500 + 25 * math.pi), abs=0.01)


@pytest.mark.parametrize("tee", [[box((-1, 24, 8), (101, 36, 21))], [box((-1, 24, 11), (101, 36, 21)), FOOT]])
def test_a_seals_seat_is_as_long_across_a_t_slot_as_across_a_plain_one(tee: list[Body]) -> None:
    """60 x 40 outside with corners of 10, 4 wide: its middle runs round 56 x 36 with corners of 8."""
    core = pocket((24, 14, 5), (76, 46, 22), 6)
    seat = cut(pocket((20, 10, 17), (80, 50, 21), 10), [core])
    found = [f for f in recognise(cut(block(), [seat, *tee])) if f.class_ == "slot"]
    (loop,) = [f for f in found if f.ends == "loop"]
    assert (loop.width, loop.length) == pytest.approx((4, 2 * (40 + 20) + 16 * math.pi))
    assert len(found) == 2
