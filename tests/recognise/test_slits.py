"""Slots of which only two cheeks are left: saw cuts into a bore; and the contour of a part with hollow blends."""

from __future__ import annotations

import math

import pytest

from schemas.base import Vec3
from schemas.feature import Feature
from tests.recognise.parts import block, drill, prism, rounded
from tests.support.recognised import recognise
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
RIGHT = (1.0, 0.0, 0.0)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


def test_a_saw_cut_into_a_bore_is_a_slot() -> None:
    body = cut(block(60, 40, 20), [drill(20, 20, -1, 21, 16), box((20, 18.5, -1), (61, 21.5, 21))])
    (slit,) = of_class(body, "slot")
    near = 20 + (8**2 - 1.5**2) ** 0.5  # where the cheeks come out of the bore
    assert (slit.length, slit.width, slit.depth) == pytest.approx((60 - near, 3, 20))
    assert slit.ends == "open open" and slit.bottom == "through" and set(slit.access) == {UP, DOWN, RIGHT}
    assert len(of_class(body, "planar_face")) == 6


def test_a_saw_cut_between_two_bores_is_a_slot() -> None:
    body = cut(block(60, 40, 20), [*(drill(x, 20, -1, 21, 10) for x in (15, 45)), box((15, 19, -1), (45, 21, 21))])
    (slit,) = of_class(body, "slot")
    assert slit.width == pytest.approx(2) and set(slit.access) == {UP, DOWN}


def test_a_vee_on_a_slope_is_not_cut_along_its_edge() -> None:
    # a tooth of a saw: one flank level, the other upright, sunk into a slope of 45 degrees
    body = cut(prism([(0.0, 0.0), (40.0, 0.0), (0.0, 40.0)], 0, 100), [box((-1, 18, 20), (101, 30, 30))])
    (found,) = [f for f in recognise(body) if f.class_ in ("slot", "step")]
    assert abs(found.placement.axis[0]) < 1e-9 and found.length == pytest.approx(100)


def test_blends_between_outer_walls_are_contour_and_no_pocket() -> None:
    def waist(a: Vec3, b: Vec3) -> bool:
        return abs(a[2] - b[2]) > 1 and abs(a[0] - 40) < 12 and abs(a[1] - 20) > 9

    body = fuse([box((0, 10, 0), (45, 30, 12)), drill(60, 20, 0, 12, 40)])
    body = rounded(body, 5, waist)
    (contour,) = [f for f in of_class(body, "profile_feature") if f.placement.axis == UP]
    assert (contour.length, contour.width, contour.depth) == pytest.approx((80, 40, 12))
    assert [f.class_ for f in recognise(body) if "pocket" in f.class_ or f.class_ == "step"] == []


def test_a_face_that_hardly_leaves_a_plane_is_that_plane() -> None:
    # a cylinder of 5.7 m runs on smoothly from a pocket's floor and rises by 2.3 um over 5 mm
    body = cut(block(), [box((30, 15, 12), (70, 45, 21)), _rising()])
    (found,) = of_class(body, "closed_pocket")
    assert found.planar_radius is None and found.bottom == "planar"
    assert (found.length, found.width) == pytest.approx((45.1, 30))


def _rising() -> Body:
    """From x 70 to 75.1, over a floor that bends up from z 12 with a radius of 5703.16."""
    radius = 5703.16
    under = box((70, 15, 11), (75.1, 45, 21))
    beyond = cut(under, [cylinder((70, 14, 12 + radius), (70, 46, 12 + radius), 2 * radius)])
    return cut(under, [beyond])


@pytest.mark.parametrize("width", [10.0, 20.0, 23.0])
def test_a_slot_out_of_a_bore_is_one_however_wide(width: float) -> None:
    """The bore of 24 lies 18 mm inside the side: the cheeks begin where the slot leaves it, by Pythagoras."""
    tools = [cylinder((30, 22, -1), (30, 22, 13), 24), box((30 - width / 2, 22, -1), (30 + width / 2, 41, 13))]
    found = recognise(cut(box((0, 0, 0), (60, 40, 12)), tools))
    assert sorted(f.class_ for f in found if not f.class_.startswith("p")) == ["round_hole", "slot"]
    slot = next(f for f in found if f.class_ == "slot")
    assert slot.width == pytest.approx(width)
    reach = 18 - math.sqrt(144 - width**2 / 4)
    assert sorted((slot.depth, slot.length)) == pytest.approx(sorted((12, reach)))
    assert {(0, 0, 1), (0, 0, -1), (0, 1, 0)} <= set(slot.access)
    assert len([f for f in found if f.class_ == "planar_face"]) == 6


def test_far_walls_between_two_bores_are_one_slot() -> None:
    bores = [cylinder((x, 30, -1), (x, 30, 13), 24) for x in (30, 70)]
    window = cut(box((0, 0, 0), (100, 60, 12)), [*bores, box((30, 20, -1), (70, 40, 13))])
    assert [f.width for f in recognise(window) if f.class_ == "slot"] == [pytest.approx(20)]
