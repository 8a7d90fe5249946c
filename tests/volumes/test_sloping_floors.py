"""Flat cutters over a floor that slopes leave terraces: solid and second computation against one closed form.

A pocket of 40 x 30 with corners of 5 whose floor falls along X from 10 to 15 below the top. A pass at height z takes
what lies over the floor there: a rectangle that ends in the pocket's round corners and, at the slope, in two sharp
ones, where a cutter of radius r leaves (1 - pi/4) r2 each. Passes are as far apart as the plan says, or an eighth of
the fall.
"""

from __future__ import annotations

import math
from typing import Any

import pytest
from OCP.BRep import BRep_Tool

from examples.shapes import Shape, box, common, cut, cylinder, polygon, prism, rounded_block, volume
from tests.support.filleted import filleted_at
from tests.support.trial import Json, inputs, plan, raw_box, removals, setup, stages_of, step, tool
from worker.field import second_opinion
from worker.kernel import boolean
from worker.kernel.shape import Body, vertices
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

POCKET = {"class": "closed_pocket"}
LONG, WIDE, CORNER, SHALLOW, DEEP = 40.0, 30.0, 5.0, 10.0, 15.0
LEFT = 1 - math.pi / 4
ROUGH, FINISH = "bottom_and_side_rough_milling", "bottom_and_side_finish_milling"


def sloped() -> Shape:
    """80 x 60 x 40 with the pocket in its top."""
    fall = (DEEP - SHALLOW) / LONG
    low, high = -12.5 - 41 * fall, -12.5 + 41 * fall
    above = prism(polygon([(-41, -31, 1), (-41, -31, high), (41, -31, low), (41, -31, 1)]), (0, 62, 0))
    room = common(rounded_block((-20, -15, -30), (20, 15, 1), CORNER), above)
    return cut(box((-40, -30, -40), (40, 30, 0)), room)


def taken(diameter: float, apart: float, side: float = 0.0, up: float = 0.0) -> float:
    """Volume by the closed form: pass k lies k times ``apart`` over the lowest point of the floor, raised by ``up``;
    the cutter stays off the slope by as much as off the walls."""
    fall, wide, corners = DEEP - SHALLOW, WIDE - 2 * side, (CORNER - side) ** 2
    found = 0.0
    for low in (k * apart for k in range(1, math.ceil(fall / apart - 1e-9))):
        length = low * LONG / fall - 2 * side
        if length >= diameter:
            over = min(apart, fall - low)
            found += over * (wide * length - 2 * LEFT * (corners + diameter**2 / 4))
    return found + (wide * (LONG - 2 * side) - 4 * LEFT * corners) * (SHALLOW - up)


def both(cutter: Json, part: Shape | None = None, feature: Json = POCKET, **keys: Any) -> tuple[float, float, float]:
    """Volume that the solid model takes, that the field takes, and the field's bound."""
    raw = raw_box((-40, -30, -40), (40, 30, 0))
    document = plan(raw, setup([step(ROUGH, cutter, feature, **keys)], location=[-40, -30, 0]))
    found = inputs(part or sloped(), document)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    stages = cut_all(found, resolved, lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    assert opinion.borrowed == () and opinion.agrees
    return removals(stages[0])[0], 80 * 60 * 40 - opinion.field_volume, opinion.bound


@pytest.mark.parametrize(
    ("diameter", "apart", "keys"),
    [
        (8, 5 / 8, {}),
        (8, 1.25, {"technology": {"axial_cutting_depth": 1.25}}),
        (8, 2.0, {"technology": {"axial_cutting_depth": 2.0}}),
        (8, 6.0, {"technology": {"axial_cutting_depth": 6.0}}),
        (6, 5 / 8, {"allowance_side": 0.3, "allowance_bottom": 0.2}),
    ],
    ids=["eighths", "quarters", "a depth that does not divide the fall", "a depth beyond the fall", "allowances"],
)
def test_terraces(diameter: float, apart: float, keys: Json) -> None:
    solid, field, bound = both(tool("endmill", diameter), **keys)
    exact = taken(diameter, apart, keys.get("allowance_side", 0.0), keys.get("allowance_bottom", 0.0))
    assert solid == pytest.approx(exact, rel=1e-6)
    assert field == pytest.approx(exact, abs=bound)


@pytest.mark.parametrize("degrees", [60, 45], ids=["flat sides", "sides at 45 degrees"])
def test_a_groove_of_two_slopes_with_open_ends(degrees: float) -> None:
    """6 deep, sides so many degrees to the axis: pass k is 2 tan(a) times its height wide. The cutter of 6 takes all of
    it where it fits, and where it does not as much as its circle reaches in at both ends."""
    rise = math.tan(math.radians(degrees))
    room = prism(polygon([(-41, -7 * rise, 1), (-41, 0, -6), (-41, 7 * rise, 1)]), (82, 0, 0))
    solid, field, bound = both(tool("endmill", 6), cut(box((-40, -30, -40), (40, 30, 0)), room), {"class": "slot"})
    wide = [2 * rise * 0.75 * k for k in range(1, 8)]
    poked = [9 * math.asin(w / 6) - w / 2 * math.sqrt(9 - w**2 / 4) for w in wide if w < 6 - 1e-9]
    exact = 0.75 * (80 * sum(w for w in wide if w >= 6 - 1e-9) + 2 * sum(poked))
    assert solid == pytest.approx(exact, rel=1e-6)
    assert field == pytest.approx(exact, abs=bound)


def test_passes_nearer_to_each_other_than_scan_lines_are_all_taken() -> None:
    """Sides at 45 degrees: passes lie 0.15 apart aside, lines 0.25. Those along the groove see no change between."""
    room = prism(polygon([(-1, 1.5, 5), (-1, 5, 1.5), (-1, 8.5, 5)]), (8, 0, 0))
    part, cutter, apart = cut(box((0, 0, 0), (6, 10, 4)), room), tool("endmill", 1.5), 0.15
    work = step(FINISH, cutter, {"class": "slot"}, technology={"axial_cutting_depth": apart})
    found = inputs(part, plan(raw_box((0, 0, 0), (6, 10, 4)), setup([work])))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    wide = [2 * apart * k for k in range(1, math.ceil(2.5 / apart))]
    over = [min(apart, 2.5 - w / 2) for w in wide]
    narrow = [w for w in wide if w < 1.5 - 1e-9]
    poked = [9 / 16 * math.asin(w / 1.5) - w / 2 * math.sqrt(9 / 16 - w**2 / 4) for w in narrow]
    exact = 6 * sum(w * h for w, h in zip(wide, over, strict=True) if w >= 1.5 - 1e-9)
    exact += sum(2 * p * h for p, h in zip(poked, over, strict=False))
    assert 240 - opinion.solid_volume == pytest.approx(exact, rel=1e-5)
    assert 240 - opinion.field_volume == pytest.approx(exact, abs=opinion.bound)
    assert opinion.agrees


def test_fillets_between_walls_and_slopes_are_followed_twice_alike() -> None:
    """A trough with two slopes for a floor: they are no round bottom that would keep the flat off its fillets."""
    low: list[tuple[float, float]] = [(-7, -7), (0, -9), (7, -6)]
    room = prism(polygon([(-11, y, z) for y, z in [*low, (7, 1), (-7, 1)]]), (22, 0, 0))
    round_ = filleted_at(room, 1.0, lambda x, y, z: abs(x) < 1e-6 and (y, z) in (low[0], low[2]))
    part, cutter = cut(box((-10, -10, -12), (10, 10, 0)), round_), tool("bullnose_endmill", 8, RE=1)
    work = step(ROUGH, cutter, {"class": "slot"}, technology={"axial_cutting_depth": 2.0})
    document = plan(raw_box((-10, -10, -12), (10, 10, 0)), setup([work], location=[-10, -10, 0]))
    found = inputs(part, document)
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    assert opinion.agrees and abs(opinion.difference) < 5.0  # without the fillets: 30 mm3 less


def test_finer_passes_leave_less() -> None:
    depths = [2.0, 1.0, 0.5]
    found = [both(tool("endmill", 8), technology={"axial_cutting_depth": d})[0] for d in depths]
    assert found == sorted(found) and found[0] < found[-1]


def test_coarser_passes_after_finer_ones_take_no_less_than_these() -> None:
    """What both take is at least what either takes; passes 2.1 apart lie on every third of those 0.7 apart."""
    works = [
        step(operation, tool("endmill", 8), POCKET, technology={"axial_cutting_depth": depth})
        for operation, depth in ((ROUGH, 0.7), (FINISH, 2.1))
    ]
    document = plan(raw_box((-40, -30, -40), (40, 30, 0)), setup(works, location=[-40, -30, 0]))
    found = inputs(sloped(), document)
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    whole = 80 * 60 * 40
    assert whole - opinion.solid_volume == pytest.approx(taken(8, 0.7), rel=3e-6)
    assert whole - opinion.field_volume == pytest.approx(taken(8, 0.7), abs=2.0)


def test_nothing_of_the_part_is_touched() -> None:
    raw = raw_box((-40, -30, -40), (40, 30, 0))
    works = [step(FINISH, tool("endmill", 8), POCKET)]
    found = inputs(sloped(), plan(raw, setup(works, location=[-40, -30, 0])))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (stage,) = cut_all(found, resolved, lambda _: None)
    assert stage.cuts[0].gouge is None
    whole = boolean.common(stage.to_be, [Body(sloped())], merge=False)  # the kernel cannot join its faces
    assert volume(whole.wrapped) == pytest.approx(volume(sloped()), rel=1e-9)


def test_terraces_keep_clear_of_a_round_floor_that_slopes() -> None:
    # A trough of radius 24 whose axis falls by 12 in 60: arcs fitted to its lines of one height are off by up to 1e-5,
    # and a corner that runs to and fro about the floor cannot be cut along it later. Steepest floor: 60 degrees
    run, fall, radius = 60.0, 12.0, 24.0
    part = cut(box((-5, -22, -20), (5, 22, 0)), cylinder((-run / 2, 0, 22), (run / 2, 0, 22 - fall), 2 * radius))
    document = plan(raw_box((-5, -22, -20), (5, 22, 0)), setup([step(ROUGH, tool("endmill", 6.0), {"class": "slot"})]))
    (stage,) = stages_of(part, document)
    corners = [BRep_Tool.Pnt_s(one).Coord() for one in vertices(stage.cuts[0].swept.wrapped)]
    lean = math.hypot(run, fall)
    clear = [
        radius - math.hypot(y, (x * fall + (z - 22 + fall / 2) * run) / lean)
        for x, y, z in corners
        if abs(x) < 4.9 and z < -0.01
    ]
    beside = [one for one in clear if one < 0.01]
    assert len(beside) > 50
    assert min(beside) > 4e-5 and max(beside) < 1.1e-4
