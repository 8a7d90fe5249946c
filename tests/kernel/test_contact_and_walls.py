"""Flat contact between bodies, thin walls and round axes against areas and distances worked by hand."""

from __future__ import annotations

import math

import pytest

from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.contact import nearest, opposed_area, patches, touches
from worker.kernel.round_axes import on_a_round_axis
from worker.kernel.walls import thin_walls


def test_a_jaw_meets_the_flat_less_the_hole_in_it() -> None:
    stock = boolean.cut(solid.box((0, 0, 0), (100, 60, 40)), [solid.cylinder((20, -1, 5), (20, 61, 5), 6)])
    fixed, moving = solid.box((-20, -20, -30), (120, 0, 8)), solid.box((-20, 60, -30), (120, 80, 8))
    found = patches(stock, fixed, 1e-3)
    # 100 x 8 less the whole circle of the hole, 2 to 8 mm high
    assert sum(p.area for p in found) == pytest.approx(800 - math.pi * 9, rel=1e-9)
    assert all(p.normal == pytest.approx((0, -1, 0)) for p in found)
    assert opposed_area(found, patches(stock, moving, 1e-3), (0, 60, 0)) == pytest.approx(800 - math.pi * 9, rel=1e-9)


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
