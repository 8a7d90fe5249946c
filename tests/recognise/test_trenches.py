"""Pockets, slots and kidney slots that something deeper cuts through at any angle: whole, with the sizes as drawn."""

from __future__ import annotations

import math

import pytest

from bench.reencode import turned
from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, obround, pocket
from tests.recognise.test_curved_slots import kidney
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.planar import polygon
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.kernel.sweep import prism as swept


def trench(angle: float, width: float, floor: float, at: tuple[float, float] = (50.0, 30.0)) -> Body:
    """Right through a block 20 high, at an angle (degrees) to X."""
    way = (math.cos(math.radians(angle)), math.sin(math.radians(angle)), 0.0)
    frame = Frame(location=(*at, 0), axis=way, ref_direction=(-way[1], way[0], 0))
    outline = [(-width / 2, floor), (width / 2, floor), (width / 2, 21.0), (-width / 2, 21.0)]
    return swept(polygon(outline), frame, -130, 130)


def parts_of(body: Body, depth: float) -> list[Feature]:
    """What is so deep."""
    return [f for f in recognise(body) if f.depth == pytest.approx(depth)]


CUTS = {
    "askew": [trench(20, 8, 8)],
    "past two corners": [trench(30, 6, 8, (40, 25))],
    "two, square to each other": [trench(20, 8, 8), trench(110, 8, 6)],
    "two, not square": [trench(20, 6, 8), trench(80, 6, 6)],
    "three abreast": [trench(15, 4, 8, (50, y)) for y in (20.0, 30.0, 40.0)],
}


@pytest.mark.parametrize("corner", [0.0, 5.0])
@pytest.mark.parametrize("name", CUTS)
def test_a_pocket_stays_whole(name: str, corner: float) -> None:
    body = cut(block(), [pocket((25, 15, 12), (75, 45, 21), corner), *CUTS[name]])
    for part in (body, turned(body, 2)[0]):
        (found,) = parts_of(part, 8)
        assert (found.class_, found.open_sides) == ("closed_pocket", 0)
        assert (found.length, found.width) == pytest.approx((50, 30), abs=1e-4)
        assert found.orthogonal_radius == (pytest.approx(corner) if corner else None)
        others = [f for f in recognise(part) if f.class_ not in ("planar_face", "profile_feature") and f.id != found.id]
        assert [f.class_ for f in others] == ["slot"] * len(CUTS[name])
    if name == "past two corners":
        same_when_rewritten(body, 1)


def test_a_triangle_with_rounds_at_its_foot_stays_whole() -> None:
    corners = ((20.0, 10.0), (80.0, 15.0), (45.0, 52.0))
    body = cut(block(), [swept(polygon(corners), Frame(location=(0, 0, 0)), 12, 21), trench(25, 5, 8)])
    (found,) = parts_of(body, 8)
    assert (found.class_, found.length) == ("closed_pocket", pytest.approx(math.hypot(60, 5)))
    body = cut(block(), [pocket((25, 15, 12), (75, 45, 21), 5, 2), trench(20, 8, 8), trench(110, 8, 6)])
    (found,) = parts_of(body, 8)
    assert (found.class_, found.planar_radius) == ("closed_pocket", pytest.approx(2))


@pytest.mark.parametrize("turn", [1.2, 2.4, 3.6])
@pytest.mark.parametrize("upright", [True, False])
def test_a_kidney_slot_stays_whole(turn: float, upright: bool) -> None:
    """Cut through in its middle, square to its way or along Y: width, middle and length are those of the whole."""
    middle = math.degrees(0.3 + turn / 2)
    across = trench(90, 5, 8, (50 + 18 * math.cos(0.3 + turn / 2), 30)) if upright else trench(middle, 5, 8)
    (found,) = parts_of(cut(block(), [kidney(18, 6, 0.3, turn, 14, 21), across]), 6)
    assert (found.class_, found.ends, found.course_of_travel) == ("slot", "radiused radiused", "circular")
    assert (found.diameter, found.width, found.length) == pytest.approx((36, 6, 18 * turn + 6), abs=1e-4)


def test_slots_and_open_pockets_stay_whole() -> None:
    (found,) = parts_of(cut(block(), [obround(20, 80, 30, 12, 21, 14), trench(70, 6, 8, (21, 30))]), 8)
    assert (found.class_, found.ends) == ("slot", "radiused radiused")
    assert (found.length, found.width) == pytest.approx((74, 14))
    (found,) = parts_of(cut(block(), [pocket((25, 15, 12), (101, 45, 21)), trench(30, 6, 8)]), 8)
    assert (found.class_, found.open_sides, found.length) == ("open_pocket", 1, pytest.approx(75))


def test_a_groove_round_a_rectangle_stays_whole() -> None:
    ring = cut(pocket((20, 10, 16), (80, 50, 21), 6), [pocket((24, 14, 15), (76, 46, 22), 2)])
    (found,) = parts_of(cut(block(), [ring, trench(0, 5, 8)]), 4)
    assert (found.class_, found.ends, found.width) == ("slot", "loop", pytest.approx(4))


@pytest.mark.parametrize("shift", [10.0, 40.0])
def test_niches_on_both_sides_of_a_slot_stay_two(shift: float) -> None:
    """As deep as each other, but their ends do not go on in one line, nor meet in the slot."""
    niches = [box((10, 10, 12), (45, 26, 21)), box((10 + shift, 34, 12), (45 + shift, 50, 21))]
    found = parts_of(cut(block(), [box((-1, 25, 8), (101, 35, 21)), *niches]), 8)
    assert [f.class_ for f in found] == ["open_pocket"] * 2
    assert all((f.length, f.width) == (pytest.approx(35), pytest.approx(15)) for f in found)
