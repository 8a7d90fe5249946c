"""Grooves whose flanks lean, right through a block: one slot each, its width at the mouth; sizes by hand."""

from __future__ import annotations

import math

import pytest

from bench.reencode import reencoded, split, turned
from schemas.feature import Feature
from tests.recognise.parts import block, prism, rounded
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.recognise import recognise

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
