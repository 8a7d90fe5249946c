"""A lever's hub is wall of what is sunk beside it and end of the contour at once: both, and no window; as drawn."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.kernel.sweep import prism

HUB, EYE, LONG, THICK, SUNK = 20.0, 15.0, 100.0, 30.0, 8.0
UPRIGHT = Frame(location=(0.0, 0.0, 0.0), axis=(0.0, 0.0, 1.0), ref_direction=(1.0, 0.0, 0.0))
UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
RISE = (HUB - EYE) / LONG
"""How the two sides come together: cosine of the angle at which they touch both ends (tangents of two circles)."""
ACROSS = math.sqrt(1 - RISE**2)


def outline(z: float, height: float) -> Body:
    """Between the places where the common tangents touch both circles."""
    near, far = ((r * RISE + x, r * ACROSS) for r, x in ((HUB, 0.0), (EYE, LONG)))
    corners = [(near[0], near[1]), (near[0], -near[1]), (far[0], -far[1]), (far[0], far[1])]
    return prism(polygon(corners), UPRIGHT, z, z + height)


def round_(x: float, radius: float, z: float, height: float) -> Body:
    return cylinder((x, 0.0, z), (x, 0.0, z + height), 2 * radius)


def sunk(z: float) -> Body:
    """What is cut beside hub and eye."""
    beside = box((0.0, -60.0, z), (LONG + 2, 60.0, z + SUNK + 1))
    return cut(beside, [round_(0.0, HUB, z - 1, SUNK + 3), round_(LONG, EYE, z - 1, SUNK + 3)])


def lever(*cuts: Body) -> Body:
    whole = fuse([outline(0.0, THICK), round_(0.0, HUB, 0.0, THICK), round_(LONG, EYE, 0.0, THICK)])
    return cut(whole, [round_(0.0, 10.0, -1.0, THICK + 2), round_(LONG, 6.0, -1.0, THICK + 2), *cuts])


FORK = box((82.0, -30.0, 10.0), (130.0, 30.0, 20.0))
LEVERS = [
    lever(sunk(-1.0), sunk(THICK - SUNK)),
    lever(sunk(THICK - SUNK)),
    lever(sunk(-1.0), sunk(THICK - SUNK), FORK),
    lever(sunk(THICK - SUNK), FORK),
]
"""Sunk on both faces and on one, without and with a fork's gap across the eye."""


def link(low: float) -> Body:
    """Three bored hubs in a row, ø50, ø40 and ø50, and a straight web 30 wide from ``low`` to 8 below their tops."""
    hubs = [cylinder((x, 0.0, 0.0), (x, 0.0, THICK), d) for x, d in ((0.0, 50.0), (60.0, 40.0), (120.0, 50.0))]
    web = box((0.0, -15.0, low), (120.0, 15.0, THICK - SUNK))
    bores = [cylinder((x, 0.0, -1.0), (x, 0.0, THICK + 1), 20.0) for x in (0.0, 60.0, 120.0)]
    return cut(fuse([web, *hubs]), bores)


def of(part: Body, class_: str) -> list[Feature]:
    return [f for f in recognise(part) if f.class_ == class_]


@pytest.mark.parametrize("part", LEVERS)
def test_contour_of_a_lever_goes_all_round_and_is_seen_from_both_faces(part: Body) -> None:
    (contour,) = of(part, "profile_feature")
    assert (contour.length, contour.width) == pytest.approx((HUB + LONG + EYE, 2 * HUB), abs=1e-5)
    assert set(contour.access) == {UP, DOWN}


@pytest.mark.parametrize("low", [0.0, SUNK])
def test_contour_of_a_link_goes_round_all_hubs(low: float) -> None:
    (contour,) = of(link(low), "profile_feature")
    assert (contour.length, contour.width, contour.depth) == pytest.approx((170.0, 50.0, THICK), abs=1e-5)
    assert set(contour.access) == {UP, DOWN}


@pytest.mark.parametrize("part", [*LEVERS, link(0.0), link(SUNK)])
def test_web_is_a_face_open_on_both_sides_from_which_hubs_stand_up(part: Body) -> None:
    found = {f.class_ for f in recognise(part)}
    assert found <= {"planar_face", "profile_feature", "round_hole", "boss", "slot"}
    webs = [f for f in of(part, "planar_face") if f.placement.location[2] in (pytest.approx(22.0), pytest.approx(8.0))]
    hubs = of(part, "boss")
    assert all(f.access == (f.placement.axis,) for f in [*webs, *hubs])
    assert all(f.height == pytest.approx(SUNK, abs=1e-5) for f in hubs)
    each = [50.0, 50.0, 40.0] if part not in LEVERS else [2 * HUB, 2 * EYE]
    assert sorted(f.diameter or 0.0 for f in hubs) == pytest.approx(sorted(each * len(webs)), abs=1e-5)


@pytest.mark.parametrize("tops", [(26.0,), (26.0, 20.0)])
@pytest.mark.parametrize("low", [0.0, 4.0])
def test_hub_that_bulges_out_of_a_straight_bar_stands_on_its_web(tops: tuple[float, ...], low: float) -> None:
    """A bar 120 x 30, its top at 14; hubs of diameter 40 from below it up to different heights."""
    places = (10.0,) if len(tops) == 1 else (-30.0, 25.0)
    hubs = [cylinder((x, 0.0, 0.0), (x, 0.0, top), 40.0) for x, top in zip(places, tops, strict=True)]
    part = fuse([box((-60.0, -15.0, low), (60.0, 15.0, 14.0)), *hubs])
    found = of(part, "boss")
    assert [f.diameter for f in found] == pytest.approx([40.0] * len(found))
    heights = [top - 14.0 for top in tops] + ([low] * len(tops) if low else [])
    assert sorted(f.height or 0.0 for f in found) == pytest.approx(sorted(heights))
    (contour,) = [f for f in of(part, "profile_feature") if abs(f.placement.axis[2]) > 0.5]
    assert (contour.length, contour.width, contour.depth) == pytest.approx((120.0, 40.0, 26.0), abs=1e-5)
    assert {f.class_ for f in recognise(part)} == {"planar_face", "profile_feature", "boss"}


def test_lever_is_the_same_when_rewritten() -> None:
    same_when_rewritten(LEVERS[2], 7)
