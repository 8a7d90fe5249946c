"""Grooves whose flanks lean, right through a block: one slot each, its width at the mouth; sizes by hand."""

from __future__ import annotations

import math

import pytest

from bench.reencode import reencoded, split, turned
from schemas.feature import Feature
from tests.recognise.parts import block, drill, prism, rounded
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body

OUTSIDE = ("planar_face", "profile_feature")


def tan(degrees: float) -> float:
    return math.tan(math.radians(degrees))


def groove(
    y: float, depth: float, leans: tuple[float, float], floor: float = 0.0, radius: float = 0.0, start: float = -1.0
) -> Body:
    """Along X in a block 20 high, ``floor`` wide about y, its flanks leaning by so many degrees; root rounds R."""
    h, (a, b), half = depth + 1, leans, floor / 2
    feet = [y] if not floor else [y + half, y - half]
    outline = [(y - half - h * tan(a), 21.0), (y + half + h * tan(b), 21.0), *((foot, 20 - depth) for foot in feet)]
    body = prism(outline, start, 101)
    for foot in feet if radius else []:
        places = {(round(foot, 6), round(20 - depth, 6))}
        body = rounded(body, radius, lambda p, q, own=places: {(round(v[1], 6), round(v[2], 6)) for v in (p, q)} == own)
    return body


def grooves_of(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in OUTSIDE]


@pytest.mark.parametrize("floor", [2.0, 11.0])
@pytest.mark.parametrize("leans", [(20.0, 20.0), (8.0, 50.0), (45.0, 45.0), (0.0, 30.0)])
def test_a_groove_with_a_floor_between_leaning_flanks_is_a_slot(leans: tuple[float, float], floor: float) -> None:
    body = cut(block(), [groove(25, 5, leans, floor)])
    for part in (body, turned(body, 2)[0], reencoded(body, 3)[0]):
        (found,) = grooves_of(part)
        assert (found.class_, found.ends, found.bottom) == ("slot", "open open", "planar")
        width = floor + 5 * sum(map(tan, leans))
        assert (found.length, found.width, found.depth) == pytest.approx((100, width, 5), abs=1e-4)
        assert found.slope == pytest.approx(max(leans), abs=1e-3)
        assert (found.open_sides, found.course_of_travel) == (2, "linear")


@pytest.mark.parametrize(("leans", "radius"), [((45.0, 45.0), 1.0), ((20.0, 50.0), 0.6), ((0.0, 40.0), 1.5)])
def test_a_vee_with_a_round_root_is_a_slot(leans: tuple[float, float], radius: float) -> None:
    """A round in a corner of 90 - a and 90 - b to the horizon touches both flanks.

    Its middle lies R / sin(half the angle) from the corner, along the middle between the flanks, which leans by
    (b - a) / 2; its lowest point is R under that.
    """
    a, b = map(math.radians, leans)
    up = radius / math.sin((a + b) / 2) * math.cos((b - a) / 2) - radius
    body = cut(block(), [groove(30, 6, leans, radius=radius)])
    for part in (body, split(body, 2)[0], turned(body, 1)[0]):
        (found,) = grooves_of(part)
        assert (found.class_, found.ends, found.planar_radius) == ("slot", "open open", pytest.approx(radius))
        assert (found.length, found.depth) == pytest.approx((100, 6 - up), abs=1e-4)
        assert found.width == pytest.approx(6 * sum(map(tan, leans)), abs=1e-4)
        assert found.course_of_travel == "linear"


@pytest.mark.parametrize("module", [1.5, 2.5])
@pytest.mark.parametrize("root", [0.0, 0.2])
def test_a_rack_is_a_row_of_slots(module: float, root: float) -> None:
    """The basic rack of ISO 53: pitch pi m, flanks at 20 degrees, m above and 1.25 m below the line on which teeth and
    gaps are equally wide. The rounds at the root are smaller here than its 0.38 m."""
    deep, pitch = 2.25 * module, math.pi * module
    floor = pitch / 2 - 2.5 * module * tan(20)
    places = [6 + k * pitch for k in range(6)]
    body = cut(block(), [groove(y, deep, (20, 20), floor, root * module) for y in places])
    for part in (body, turned(body, 4)[0]):
        found = grooves_of(part)
        assert [f.class_ for f in found] == ["slot"] * 6
        assert {f.pattern for f in found} == {"rectangular 6 x 1"}
        for tooth in found:
            sizes = (100, pitch / 2 + 2 * module * tan(20), deep)
            assert (tooth.length, tooth.width, tooth.depth) == pytest.approx(sizes, abs=1e-4)
            assert (tooth.ends, tooth.slope) == ("open open", pytest.approx(20, abs=1e-3))


@pytest.mark.parametrize("leans", [(20.0, 60.0), (30.0, 60.0), (15.0, 25.0)])
def test_saw_teeth_without_any_land_are_slots(leans: tuple[float, float]) -> None:
    pitch = 5 * sum(map(tan, leans))
    places = [8 + k * pitch for k in range(4)]
    body = cut(block(), [groove(y, 5, leans) for y in places])
    for part in (body, turned(body, 3)[0]):
        found = grooves_of(part)
        assert [f.class_ for f in found] == ["slot"] * 4
        assert {f.pattern for f in found} == {"rectangular 4 x 1"}
        sizes = [(f.length, f.width, f.depth) for f in found]
        assert sizes == [pytest.approx((100, pitch, 5), abs=1e-4)] * 4


def test_a_groove_with_leaning_flanks_ends_flat_or_stays_a_pocket_when_short() -> None:
    long, short = (cut(block(), [groove(30, 5, (20, 20), 4, start=x)]) for x in (20.0, 95.0))
    (found,) = grooves_of(long)
    assert (found.class_, found.ends) == ("slot", "open flat")
    assert (found.length, found.width) == pytest.approx((80, 4 + 10 * tan(20)))
    (found,) = grooves_of(short)
    assert (found.class_, found.length) == ("open_pocket", pytest.approx(4 + 10 * tan(20)))


def test_a_slant_at_the_foot_of_a_higher_wall_makes_no_slot() -> None:
    """A groove along a wall that goes on 15 above the other side: it has no one mouth."""
    body = cut(fuse([block(), box((0, 34, 20), (100, 60, 35))]), [groove(32, 5, (45, 0), 4)])
    (found,) = [f for f in grooves_of(body) if f.depth and f.bottom == "planar" and f.class_ != "step"]
    assert found.class_ == "open_pocket"


@pytest.mark.parametrize("leans", [(20.0, 20.0), (10.0, 40.0)])
def test_what_crosses_leaning_flanks_leaves_one_slot(leans: tuple[float, float]) -> None:
    body = cut(block(), [groove(30, 5, leans, 4), box((40, -1, 12), (50, 61, 21))])
    wanted = [(60.0, 10.0, 8.0), (100.0, 4 + 5 * sum(map(tan, leans)), 5.0)]
    found = grooves_of(body)
    assert {f.class_ for f in found} == {"slot"}
    assert sorted((f.length, f.width, f.depth) for f in found) == [pytest.approx(w, abs=1e-4) for w in wanted]
    same_when_rewritten(body, 1)


@pytest.mark.parametrize("leans", [(-10.0, 50.0), (-30.0, 60.0)])
def test_a_vee_of_which_one_flank_hangs_over_is_a_slot_seen_from_half_way_between_them(
    leans: tuple[float, float],
) -> None:
    """From there the flank's ends lie as high as the cosine of half the opening makes of their lengths."""
    middle, half = (leans[1] - leans[0]) / 2, (leans[1] + leans[0]) / 2
    body = cut(block(), [groove(25, 5, leans)])
    for part in (body, turned(body, 2)[0], split(body, 3)[0]):
        (found,) = grooves_of(part)
        assert (found.class_, found.ends, len(found.access)) == ("slot", "open open", 3)
        long, short = (5 / math.cos(math.radians(lean)) for lean in reversed(leans))
        sine, cosine = math.sin(math.radians(half)), math.cos(math.radians(half))
        assert (found.length, found.width) == pytest.approx((100, (long + short) * sine), abs=1e-4)
        assert (found.depth, found.slope) == pytest.approx((long * cosine, half), abs=1e-3)
    (found,) = grooves_of(body)
    way = (0.0, math.sin(math.radians(middle)), math.cos(math.radians(middle)))
    assert found.access[0] == pytest.approx(way, abs=1e-6) and found.placement.axis == found.access[0]


@pytest.mark.parametrize(("land", "depth"), [(0.3, 2.35), (1.0, 2.0)])
def test_flat_tops_of_ridges_between_grooves_are_one_plane(land: float, depth: float) -> None:
    """Serrations right over a block: as many grooves as begin on its 60 mm."""
    pitch = land + 2 * depth
    places = [pitch / 2 + k * pitch for k in range(int(60 / pitch))]
    body = cut(block(), [groove(y, depth, (45.0, 45.0)) for y in places])
    for part in (body, turned(body, 2)[0]):
        found = grooves_of(part)
        assert [(f.class_, f.ends) for f in found] == [("slot", "open open")] * len(places)
        assert all((f.width, f.depth) == pytest.approx((2 * depth, depth), abs=1e-4) for f in found)


def test_the_flat_top_of_a_lone_ridge_breaks_no_edge() -> None:
    """A guide's ridge of 90 degrees, 9 high on its block, 2 wide on top; a bar of three sides has broken edges."""
    ridge = fuse([block(), prism([(20, 19), (40, 19), (40, 20), (31, 29), (29, 29), (20, 20)], 0, 100)])
    for part in (ridge, turned(ridge, 2)[0]):
        assert sorted(f.class_ for f in grooves_of(part)) == ["step", "step"]
        assert min(f.width or 0 for f in recognise(part) if f.class_ == "planar_face") == pytest.approx(2)
    sides = [(2, 0), (38, 0), (39, 1.732), (21, 32.909), (19, 32.909), (1, 1.732)]
    assert [f.class_ for f in grooves_of(prism([(float(y), float(z)) for y, z in sides], 0, 100))] == ["chamfer"] * 3


def test_a_flank_that_runs_out_at_the_end_makes_no_steps_of_the_other_grooves() -> None:
    """The last groove ends beyond the block: its one flank looks as all others do, and like a slanted side."""
    places = [2.25 + k * 4.5 for k in range(14)]  # the last middle at 60.75
    found = grooves_of(cut(block(), [groove(y, 2, (45.0, 45.0)) for y in places]))
    assert [(f.class_, f.ends) for f in found] == [("slot", "open open")] * 13


def test_broken_edges_of_a_stair_that_lie_on_one_plane_stay_chamfers() -> None:
    outline = [(0.0, 0.0), (60.0, 0.0)]
    for k in range(6):
        outline += [(60 - 10 * k, 9.5 + 10 * k), (59.5 - 10 * k, 10 + 10 * k), (50 - 10 * k, 10 + 10 * k)]
    found = grooves_of(prism(outline, 0, 40))
    assert sorted(f.class_ for f in found) == ["chamfer"] * 6 + ["step"] * 5


def test_a_vee_with_a_steeper_mouth_is_one_slot() -> None:
    """4 deep at 45 degrees, and 4 above them that open 2 to either side, or to one."""
    for right in (2.0, 0.0):
        outline = [(25.0, 12.0), (29.0, 16.0), (29.0 + right, 20.0), (19.0, 20.0), (21.0, 16.0)]
        outline = outline if right else [(25.0, 12.0), (33.0, 20.0), *outline[3:]]
        body = cut(block(), [prism(outline, -1, 101)])
        for part in (body, turned(body, 2)[0]):
            (found,) = grooves_of(part)
            assert (found.class_, found.ends, found.course_of_travel) == ("slot", "open open", "linear")
            width = 12.0 if right else 14.0
            assert (found.length, found.width, found.depth) == pytest.approx((100, width, 8), abs=1e-4)
            assert found.slope == pytest.approx(45, abs=1e-3)


def test_a_hole_through_the_line_where_a_flank_and_a_round_end_meet_leaves_the_slot() -> None:
    ends = [cone((x, 25, 15), (x, 25, 20), 0, 10) for x in (30.0, 60.0)]
    hole = drill(58, 28, -1, 21, 9)  # over all of the line from (60, 25, 15) to (60, 30, 20)
    body = cut(block(), [prism([(25, 15), (30, 20), (20, 20)], 30, 60), *ends, hole])
    for part in (body, turned(body, 2)[0]):
        groove, drilled = sorted(grooves_of(part), key=lambda f: f.class_, reverse=True)
        assert (groove.class_, groove.ends, drilled.class_) == ("slot", "radiused radiused", "round_hole")
        assert (groove.length, groove.width, groove.depth) == pytest.approx((40, 10, 5), abs=1e-3)


@pytest.mark.parametrize("leans", [(45.0, 45.0), (20.0, 40.0), (0.0, 30.0)])
def test_a_vee_turned_round_an_axis_is_one_groove(leans: tuple[float, float]) -> None:
    """3 deep round a circle of 24, its inner and outer flank leaning by so much."""
    inner, outer = (3 * tan(lean) for lean in leans)
    whole = cone((50, 30, 17), (50, 30, 20), 24, 24 + 2 * outer)
    core = cone((50, 30, 17), (50, 30, 20), 24, 24 - 2 * inner) if inner else cylinder((50, 30, 17), (50, 30, 20), 24)
    body = cut(block(), [cut(whole, [core])])
    for part in (body, turned(body, 2)[0], cut(body, [drill(50, 30, -1, 21, 8)])):
        found = next(f for f in grooves_of(part) if f.class_ == "slot")
        assert {f.class_ for f in grooves_of(part)} <= {"slot", "round_hole"}
        assert (found.ends, found.course_of_travel, found.open_sides) == ("loop", "circular", 0)
        assert (found.diameter, found.width, found.depth) == pytest.approx((24, inner + outer, 3), abs=1e-3)
        assert found.slope == pytest.approx(max(leans), abs=1e-2)


def test_a_vee_round_a_racetrack_is_one_groove() -> None:
    """Bottom lines 20 long and half circles of 12, drawn stretch by stretch."""
    ends = [cut(cone((x, 30, 17), (x, 30, 20), 24, 30), [cone((x, 30, 17), (x, 30, 20), 24, 18)]) for x in (40, 60)]
    halves = [cut(end, [box((40, 0, 0), (60, 60, 30))]) for end in ends]
    halves = [cut(halves[0], [box((60, 0, 0), (99, 60, 30))]), cut(halves[1], [box((0, 0, 0), (40, 60, 30))])]
    lines = [prism([(y, 17), (y + 3, 20), (y - 3, 20)], 40, 60) for y in (18.0, 42.0)]
    body = cut(block(), [*halves, *lines])
    (found,) = grooves_of(body)
    assert (found.class_, found.ends, found.course_of_travel) == ("slot", "loop", "general")
    length = 2 * 20 + 2 * math.pi * 12
    assert (found.length, found.width, found.depth) == pytest.approx((length, 6, 3), abs=1e-2)


@pytest.mark.parametrize("land", [20.0, 25.0])
def test_an_upright_flank_that_ends_lower_makes_a_slot_as_well(land: float) -> None:
    """10 deep beside the slant of 45 degrees, 4 beside the upright flank: what stands there was milled down before."""
    lowered = box((-1, -1, 14), (101, land, 21))
    (found,) = grooves_of(cut(block(), [lowered, prism([(20, 21), (20, 10), (30, 10), (41, 21)], -1, 101)]))
    assert (found.class_, found.ends, found.open_sides) == ("slot", "open open", 2)
    assert (found.length, found.width, found.depth) == pytest.approx((100, 20, 10))
