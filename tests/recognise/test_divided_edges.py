"""Broken edges that a slot divides come out whole; sizes are as built."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from bench.reencode import reencoded
from schemas.feature import Feature
from tests.recognise.parts import at_height, block, obround, pocket, prism
from tests.recognise.parts import chamfered as broken
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body

LEG = 2.0


def transitions(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ in ("chamfer", "edge_round")]


def chamfered(*slots: tuple[float, float]) -> Body:
    """A block of 100 x 60 x 20 with its upper front edge chamfered and slots across it, by their ends along X."""
    nick = prism([(-1.0, 21.0), (-1.0, 17.0), (3.0, 21.0)], -1.0, 102.0)
    return cut(block(), [nick, *(box((low, -1, 12), (high, 61, 21)) for low, high in slots)])


@pytest.mark.parametrize("slots", [[], [(45, 55)], [(20, 30), (60, 72)]])
def test_a_chamfer_that_slots_cross_is_one(slots: list[tuple[float, float]]) -> None:
    (found,) = transitions(chamfered(*slots))
    assert (found.class_, found.length, found.depth) == ("chamfer", pytest.approx(100), pytest.approx(LEG))
    assert len(found.faces) == len(slots) + 1


@pytest.mark.parametrize("edge", ["chamfer", "edge_round"])
def test_an_edge_that_a_round_groove_crosses_is_one(edge: str) -> None:
    """One face of the groove ends both stretches: it is none of those that the edge lies between."""
    nick = prism([(-1.0, 21.0), (-1.0, 17.0), (3.0, 21.0)], -1.0, 102.0)
    square, bar = box((-1, -1, 17), (101, 3, 21)), cylinder((0, 3, 17), (100, 3, 17), 6)
    whole = cut(block(), [nick]) if edge == "chamfer" else fuse([cut(block(), [square]), bar])
    (alone,) = transitions(whole)
    (found,) = transitions(cut(whole, [cylinder((40, -1, 20), (40, 61, 20), 12)]))
    assert (found.id, found.class_, len(found.faces)) == (alone.id, edge, 2)


def test_chamfers_far_apart_in_one_line_are_two() -> None:
    """Two stretches of 20 mm with 60 mm between them."""
    assert [f.length for f in transitions(chamfered((20, 80)))] == pytest.approx([20, 20])


def test_the_chamfered_end_of_a_bar_that_a_slot_crosses_is_one() -> None:
    bar, top = cylinder((0, 0, 0), (0, 0, 38), 30), cone((0, 0, 38), (0, 0, 40), 30, 26)
    body = cut(fuse([bar, top]), [box((-20, -4, 34), (20, 4, 41))])
    (found,) = transitions(body)
    assert (found.class_, len(found.faces)) == ("chamfer", 2)
    assert sorted((found.diameter or 0, found.top_diameter or 0)) == pytest.approx([26, 30])


@pytest.mark.parametrize(
    ("cuts", "pieces"),
    [
        ([box((-20, 12, -1), (20, 20, 41)), box((-20, -20, -1), (20, -12, 41))], 2),  # two flats
        ([box((-2, 13, -1), (2, 20, 41)), box((-2, -20, -1), (2, -13, 41)), box((13, -2, -1), (20, 2, 41))], 3),
    ],
)
def test_the_chamfered_end_of_a_disc_that_flats_or_notches_divide_is_one(cuts: list[Body], pieces: int) -> None:
    """Its stretches end at the same faces, as at both flats, or in one line: not only the two it lies between."""
    disc = fuse([cylinder((0, 0, 0), (0, 0, 38), 30), cone((0, 0, 38), (0, 0, 40), 30, 26)])
    (alone,) = transitions(disc)
    (found,) = transitions(cut(disc, cuts))
    assert (found.id, len(found.faces), found.depth) == (alone.id, pieces, pytest.approx(2))


def test_a_rounded_edge_that_a_slot_crosses_is_one() -> None:
    """The same edge with a radius of 3 mm."""
    square = cut(block(), [box((-1, -1, 17), (101, 3, 21))])
    body = cut(fuse([square, cylinder((0, 3, 17), (100, 3, 17), 6)]), [box((45, -1, 12), (55, 61, 21))])
    (found,) = transitions(body)
    assert (found.class_, found.radius, found.length) == ("edge_round", pytest.approx(3), pytest.approx(100))


def test_chamfers_of_two_stairs_in_one_slope_are_two() -> None:
    """A chamfer of 0.5 mm on either edge, both in one plane, which share the part's ends alone."""
    slope = prism([(-1.0, 16.5), (-1.0, 23.0), (5.5, 23.0)], -1.0, 102.0)
    found = transitions(cut(block(), [box((-1, -1, 18), (101, 2, 21)), slope]))
    assert [(f.class_, f.length, f.depth) for f in found] == [("chamfer", pytest.approx(100), pytest.approx(0.5))] * 2


@pytest.mark.parametrize(
    ("leg", "land", "told"), [(1.0, 2.0, True), (1.0, 1.5, True), (1.0, 1.3, False), (2.0, 3.0, False)]
)
def test_a_small_chamfer_on_a_narrow_land_is_one(leg: float, land: float, told: bool) -> None:
    """Edges are broken by up to 1.5 mm on narrow lands as well (common practice); a larger slant there is a wall."""
    ledge = box((-1, land + leg, 10), (101, 61, 21))
    nick = prism([(-1.0, 21.0), (-1.0, 19.0 - leg), (leg + 1.0, 21.0)], -1.0, 102.0)
    found = transitions(cut(block(), [ledge, nick]))
    assert [(f.class_, f.depth) for f in found] == ([("chamfer", pytest.approx(leg))] if told else [])


@pytest.mark.parametrize("written", [lambda b: b, lambda b: reencoded(b, 2)[0]])
@pytest.mark.parametrize("land", [0.3, 1.1, 1.7])
def test_a_chamfer_on_a_thin_ledge_under_a_wall_is_one(land: float, written: Callable[[Body], Body]) -> None:
    """1.46 mm at 45 degrees off the edge of a ledge 3 below the top, as wide as land and leg together."""
    ledge = box((-1, -1, 17), (101, land + 1.46, 21))
    nick = prism([(-1.0, 18.0), (-1.0, 17.0 - 2.46), (2.46, 18.0)], -1.0, 102.0)
    found = recognise(written(cut(block(), [ledge, nick])))
    (step,) = [f for f in found if f.class_ == "step"]
    assert [(f.depth, f.length) for f in found if f.class_ == "chamfer"] == [pytest.approx((1.46, 100))]
    assert sorted((step.width or 0, step.depth or 0)) == pytest.approx(sorted((land + 1.46, 3)))


@pytest.mark.parametrize("lean", [8, 15, 20])
def test_a_drafted_wall_under_a_thin_ledge_is_none(lean: float) -> None:
    """No deeper than 1.5 mm, and its lower edge on the side of the part: what leans like a draft breaks no edge."""
    away = 1.46 * math.tan(math.radians(lean))
    ledge = box((-1, -1, 17), (101, 1.3 + away, 21))
    nick = prism([(-1.0, 18.0), (-1.0, 15.54), (0.0, 15.54), (away, 17.0), (away, 18.0)], -1.0, 102.0)
    assert transitions(cut(block(), [ledge, nick])) == []


@pytest.mark.parametrize("leg", [1.0, 2.0, 2.4])
def test_a_chamfer_round_the_end_of_a_slot_is_one_even_where_its_wall_is_low(leg: float) -> None:
    """Two straight stretches and the cone between them, from one pass; the plate is 6 thick."""
    plate = cut(block(z=6.0), [obround(40, 110, 30, -1, 7, 20)])
    inside = broken(plate, leg, lambda a, b: at_height(6.0)(a, b) and all(15 < p[1] < 45 for p in (a, b)))
    (found,) = [f for f in recognise(inside) if f.class_ == "chamfer"]
    assert (found.depth, len(found.faces)) == (pytest.approx(leg), 3)


@pytest.mark.parametrize("leg", [2.0, 4.0, 5.95])
def test_a_chamfer_round_a_window_is_one_however_low_a_land_it_leaves(leg: float) -> None:
    """Four straight stretches and four cones, from one pass; the plate is 6 thick, the land 6 less the leg."""
    plate = cut(block(z=6.0), [pocket((30, 15, -1), (70, 45, 7), corner=4.0)])
    inside = broken(
        plate, leg, lambda a, b: at_height(6.0)(a, b) and all(25 < p[0] < 75 and 10 < p[1] < 50 for p in (a, b))
    )
    found = recognise(inside)
    (chamfer,) = [f for f in found if f.class_ == "chamfer"]
    assert (chamfer.depth, chamfer.angle, len(chamfer.faces)) == (pytest.approx(leg), pytest.approx(45), 8)
    assert [f.class_ for f in found if f.class_ in ("slot", "step", "open_pocket")] == []


@pytest.mark.parametrize("land", [0.05, 3.0])
def test_drafted_walls_round_the_end_of_a_slot_are_none_however_low_a_land_they_leave(land: float) -> None:
    """Walls 20 degrees off upright above straight ones, in a plate 6 thick: no tool for edges makes them."""
    wide = 3.5 + (6 - land) * math.tan(math.radians(20))
    flanks = prism([(30 - 3.5, land), (30 + 3.5, land), (30 + wide, 6.0), (30 - wide, 6.0)], 40.0, 102.0)
    end = cone((40, 30, land), (40, 30, 6), 7, 2 * wide)
    found = recognise(cut(block(z=6.0), [obround(40, 110, 30, -1, land + 0.02, 7), flanks, end]))
    leaning = [(f.class_, f.ends, f.depth, f.slope) for f in found if f.slope]
    assert leaning == [("slot", "open radiused", pytest.approx(6 - land), pytest.approx(20))]
    assert [f.class_ for f in found if f.class_ in ("chamfer", "step")] == []


def test_a_pocket_through_a_chamfered_edge_is_cut_from_above() -> None:
    """20 wide, 30 from the edge, 10 deep: the chamfer that it cuts is no side of the part to come from."""
    body = cut(
        broken(block(), 2, lambda a, b: a[1] + b[1] < 1e-6 and a[2] + b[2] > 39.9), [box((70, -1, 10), (90, 30, 21))]
    )
    (pocket,) = (f for f in recognise(body) if f.bottom)
    assert (pocket.class_, pocket.placement.axis) == ("open_pocket", (0.0, 0.0, 1.0))
    assert (pocket.length, pocket.width, pocket.depth) == pytest.approx((30, 20, 10))
