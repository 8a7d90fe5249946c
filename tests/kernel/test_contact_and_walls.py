"""Flat contact between bodies, thin walls and round axes against areas and distances worked by hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import pytest

from bench.reencode import as_nurbs
from schemas.base import Frame
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.between import between
from worker.kernel.contact import Patch, nearest, opposed, patches, touches
from worker.kernel.measure import area, volume
from worker.kernel.planar import polygon
from worker.kernel.round_axes import on_a_round_axis
from worker.kernel.shape import Body
from worker.kernel.sweep import prism
from worker.kernel.walls import thin_walls


def _opposed_area(one: Sequence[Patch], other: Sequence[Patch]) -> float:
    """Area in which the one cover the other, seen along y."""
    return sum(area(face) for face, _ in opposed(one, other, (0, 1, 0)))


def test_a_jaw_meets_the_flat_less_the_hole_in_it() -> None:
    stock = boolean.cut(solid.box((0, 0, 0), (100, 60, 40)), [solid.cylinder((20, -1, 5), (20, 61, 5), 6)])
    fixed, moving = solid.box((-20, -20, -30), (120, 0, 8)), solid.box((-20, 60, -30), (120, 80, 8))
    found = patches(stock, fixed, 1e-3)
    # 100 x 8 less the whole circle of the hole, 2 to 8 mm high
    assert sum(p.area for p in found) == pytest.approx(800 - math.pi * 9, rel=1e-9)
    assert all(p.normal == pytest.approx((0, -1, 0)) for p in found)
    assert _opposed_area(found, patches(stock, moving, 1e-3)) == pytest.approx(800 - math.pi * 9, rel=1e-9)


def test_flats_that_stand_back_by_less_than_counts_as_touching_are_opposed() -> None:
    stock = boolean.cut(solid.box((0, 0, 0), (100, 60, 40)), [solid.box((50, 59.996, -1), (101, 61, 41))])
    fixed, moving = solid.box((-20, -20, -30), (120, 0, 8)), solid.box((-20, 60, -30), (120, 80, 8))
    met = [patches(stock, jaw, 0.01) for jaw in (fixed, moving)]
    assert _opposed_area(met[0], met[1]) == pytest.approx(800, rel=1e-9)
    assert _opposed_area(met[1], met[0]) == pytest.approx(800, rel=1e-9)
    assert volume(between(met[0], met[1], (0, 1, 0))) == pytest.approx(400 * 60 + 400 * 59.996, rel=1e-9)


def test_a_jaw_touches_a_round_bar_along_a_line_only() -> None:
    bar, jaw = solid.cylinder((0, 0, 0), (0, 0, 50), 40), solid.box((-50, 20, 0), (50, 30, 10))
    assert patches(bar, jaw, 1e-3) == ()
    assert touches(bar, jaw, 1e-3)
    assert not touches(bar, solid.box((-50, 20.5, 0), (50, 30, 10)), 1e-3)


def test_a_gap_within_the_tolerance_still_touches() -> None:
    stock, plate = solid.box((0, 0, 0), (10, 10, 10)), solid.box((-5, -5, -5), (5, 5, -0.005))
    assert sum(p.area for p in patches(stock, plate, 0.01)) == pytest.approx(25, rel=1e-9)
    assert patches(stock, plate, 0.001) == ()


def test_the_nearest_point_of_a_body() -> None:
    gap = nearest(solid.box((0, 0, 0), (10, 10, 10)), (5, 5, 13))
    assert gap.distance == pytest.approx(3)
    assert gap.on_first == pytest.approx((5, 5, 10))


def test_walls_between_flats_bores_and_faces() -> None:
    body = boolean.cut(
        solid.box((0, 0, 0), (60, 40, 20)),
        [
            solid.box((0.8, 5, 5), (10, 35, 21)),  # 0.8 mm to the side at x = 0
            solid.cylinder((30, 20, -1), (30, 20, 21), 10),
            solid.cylinder((40.6, 20, -1), (40.6, 20, 21), 10),  # 0.6 mm between the bores
            solid.cylinder((50, 4.4, -1), (50, 4.4, 21), 8),  # 0.4 mm to the side at y = 0
        ],
    )
    found = thin_walls(body, 1.0)
    assert [round(w.thickness, 6) for w in found] == [0.4, 0.6, 0.8]
    assert found[2].area == pytest.approx(30 * 15, rel=1e-9)
    assert thin_walls(body, 0.3) == ()


@pytest.mark.parametrize("written", [lambda body: body, lambda body: as_nurbs(body)[0]], ids=["plain", "splines"])
def test_walls_beside_bores_that_a_slot_cuts_open(written: Callable[[Body], Body]) -> None:
    """0.6 mm stay between what is left of both bores, 0.5 mm of the boss round one, however their faces are written."""
    plate = boolean.fuse([solid.box((0, 0, 0), (60, 40, 20)), solid.cylinder((10, 20, 20), (10, 20, 30), 11)])
    bores = [solid.cylinder((x, 20, -1), (x, 20, 31), 10) for x in (10, 30, 40.6)]
    body = boolean.cut(plate, [*bores, solid.box((20, 10, -1), (29, 30, 31)), solid.box((4, 14, 20), (8, 26, 31))])
    assert [round(w.thickness, 5) for w in thin_walls(written(body), 1.0)] == [0.5, 0.6]


def test_a_narrow_slot_is_no_wall() -> None:
    """Its two sides face each other over air."""
    body = boolean.cut(solid.box((0, 0, 0), (60, 40, 20)), [solid.box((30, -1, 5), (30.5, 41, 21))])
    assert thin_walls(body, 1.0) == ()


def test_axes_of_bores_and_bosses_but_not_of_rounded_corners() -> None:
    plate = solid.box((0, 0, 0), (40, 40, 10))
    corner = boolean.cut(solid.box((36, 36, -1), (41, 41, 11)), [solid.cylinder((36, 36, -1), (36, 36, 11), 8)])
    body = boolean.cut(plate, [solid.cylinder((10, 20, -1), (10, 20, 11), 6), corner])
    body = boolean.fuse([body, solid.cylinder((25, 20, 10), (25, 20, 15), 8)])
    assert on_a_round_axis(body, (10, 20, 30), 0.01)
    assert on_a_round_axis(body, (25, 20, 40), 0.01)
    assert not on_a_round_axis(body, (36, 36, 30), 0.01)
    assert not on_a_round_axis(body, (10.1, 20, 30), 0.01)


def _drilled(depth: float) -> Body:
    """A block of 20 mm with a hole of 5 mm and a point of 118 degrees, 1.50215 mm long."""
    length = 2.5 / math.tan(math.radians(59))
    floor = 20 - depth
    hole = boolean.fuse(
        [solid.cylinder((30, 20, floor), (30, 20, 21), 5), solid.cone((30, 20, floor), (30, 20, floor - length), 5, 0)]
    )
    return boolean.cut(solid.box((0, 0, 0), (60, 40, 20)), [hole])


def test_the_metal_under_the_point_of_a_drill() -> None:
    found = thin_walls(_drilled(18.0), 1.0)
    assert [w.thickness for w in found] == [pytest.approx(2.0 - 1.50215, abs=1e-4)]
    assert found[0].at == pytest.approx((30, 20, found[0].thickness / 2))
    assert thin_walls(_drilled(17.4), 1.0) == ()


@pytest.mark.parametrize("offset", [0.0, 0.3])
def test_a_bore_in_a_boss(offset: float) -> None:
    """Boss of 12, bore of 10.8: 0.6 mm all round, or 0.3 mm on one side."""
    boss = boolean.fuse([solid.box((0, 0, 0), (60, 40, 8)), solid.cylinder((30, 20, 8), (30, 20, 20), 12)])
    body = boolean.cut(boss, [solid.cylinder((30 + offset, 20, -1), (30 + offset, 20, 21), 10.8)])
    found = thin_walls(body, 1.0)
    assert [w.thickness for w in found] == [pytest.approx(0.6 - offset)]
    assert 8 < found[0].at[2] < 20


def _rib(bottom: float, top: float) -> Body:
    """A rib 10 mm high and 40 long on a base, its flanks symmetric."""
    frame = Frame(location=(0, 0, 0), axis=(0, 1, 0), ref_direction=(1, 0, 0))  # x along x, y along -z
    region = polygon([(-bottom / 2, 0), (bottom / 2, 0), (top / 2, -10), (-top / 2, -10)])
    return boolean.fuse([solid.box((-20, 0, -5), (20, 40, 0)), prism(region, frame, 0.0, 40.0)])


def test_a_tapered_rib_is_as_thin_as_its_top() -> None:
    found = thin_walls(_rib(2.0, 0.6), 1.0)
    assert [w.thickness for w in found] == [pytest.approx(0.6, abs=1e-6)]
    assert found[0].at[2] == pytest.approx(10, abs=0.1)
    assert thin_walls(_rib(4.0, 1.2), 1.0) == ()


def test_edges_wedges_and_lips_are_no_walls() -> None:
    chamfered = boolean.cut(
        solid.box((0, 0, 0), (60, 40, 20)),
        [solid.box((-5, -5, -0.7), (65, 5, 5), Frame(location=(0, 0, 20), axis=(0, -1, 1), ref_direction=(1, 0, 0)))],
    )
    wedge = boolean.cut(
        solid.box((0, 0, 0), (60, 40, 2.5)),
        [solid.box((-1, 0, 0), (70, 60, 9), Frame(location=(0, -20, 0), axis=(0, -0.05, 1), ref_direction=(1, 0, 0)))],
    )
    sunk = boolean.cut(
        solid.box((0, 0, 0), (60, 40, 3)),
        [solid.cylinder((30, 20, -1), (30, 20, 4), 5), solid.cone((30, 20, 0.2), (30, 20, 3.1), 5, 10.8)],
    )
    lip = boolean.cut(solid.box((0, 0, 0), (60, 40, 20)), [solid.box((-1, 0.5, 19.6), (61, 3, 21))])
    for body in (chamfered, wedge, sunk, lip):
        assert thin_walls(body, 1.0) == ()


def test_a_rib_with_rounded_corners_is_one_wall() -> None:
    """Two pockets of 4 mm corners side by side, 0.8 mm apart: flat and corners are told once."""

    def pocket(x0: float, x1: float) -> Body:
        posts = [solid.cylinder((x, y, 8), (x, y, 21), 8) for x in (x0 + 4, x1 - 4) for y in (9, 31)]
        flats = [solid.box((x0 + 4, 5, 8), (x1 - 4, 35, 21)), solid.box((x0, 9, 8), (x1, 31, 21))]
        return boolean.fuse([*flats, *posts])

    body = boolean.cut(solid.box((0, 0, 0), (60, 40, 20)), [pocket(5, 29.6), pocket(30.4, 55)])
    found = thin_walls(body, 1.0)
    assert [(w.thickness, w.area) for w in found] == [(pytest.approx(0.8), pytest.approx(22 * 12))]
