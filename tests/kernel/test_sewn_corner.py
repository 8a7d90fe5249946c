"""Floors with a round border put together face by face, against closed forms (Pappus)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np
import pytest
from OCP.TopoDS import TopoDS_Shape
from OCP.TopTools import TopTools_ListOfShape

from examples.shapes import volume
from schemas.base import Frame
from worker.kernel import attempts, boolean, round_corner
from worker.kernel.eased_corner import eased
from worker.kernel.planar import Region, disc, open_by_disc, polygon, rectangle, subtract, union
from worker.kernel.planar_edge import arcs, line
from worker.kernel.primitives import box
from worker.kernel.round_corner import round_cornered
from worker.kernel.sewn_corner import sewn
from worker.kernel.shape import list_of
from worker.kernel.validity import is_sound

PIECES = 40
HIGH = 15.0
PI = math.pi


def _pocket(corner: float) -> Region:
    """60 x 40 with round corners, each of many short arcs and one far shorter than what is sewn."""
    edges = []
    for k, (x, y) in enumerate(((30 - corner, -20 + corner), (30 - corner, 20 - corner), (-30 + corner, 20 - corner),
                                (-30 + corner, -20 + corner))):  # fmt: skip
        start = (k - 1) * PI / 2
        stops = [start, start + 2e-5, *(start + PI / 2 * i / PIECES for i in range(1, PIECES + 1))]
        corners = [e for a, b in pairwise(stops) for e in arcs((x, y), corner, a, b - a)]
        edges += [line(edges[-1].b, corners[0].a), *corners] if edges else corners
    edges.append(line(edges[-1].b, edges[0].a))
    return Region((tuple(edges),))


def _left(radius: float, corner: float) -> float:
    """Metal between floor, wall and the cutter's corner, once round the pocket."""
    section = (1 - PI / 4) * radius**2
    centroid = radius * (10 - 3 * PI) / (12 - 3 * PI)
    return section * (2 * (60 - 2 * corner) + 2 * (40 - 2 * corner) + 2 * PI * (corner - centroid))


@pytest.mark.parametrize(("radius", "corner"), [(3.0, 6.0), (6.0, 6.0), (0.2, 1.0)], ids=["bull", "ball", "small"])
def test_a_border_of_many_short_arcs(radius: float, corner: float) -> None:
    frame = Frame(location=(1.0, 2.0, 3.0), axis=(1, 2, 2), ref_direction=(2, 1, -2))
    found = sewn(_pocket(corner), frame, -2.0, HIGH - 2.0, radius)
    assert found is not None and is_sound(found)
    exact = (60 * 40 - (4 - PI) * corner**2) * HIGH - _left(radius, corner)
    assert volume(found.wrapped) == pytest.approx(exact, rel=1e-9)


def test_a_ring_about_an_island() -> None:
    """Outer circle of 20, inner one of 8: the section turned about both (its centroid lies so far off the walls)."""
    ring = Region((*disc((0.0, 0.0), 20.0).loops, arcs((0.0, 0.0), 8.0, 0.0, -2 * PI)))
    found = sewn(ring, Frame(), 0.0, HIGH, 2.0)
    section, off = (1 - PI / 4) * 4, 2 * (10 - 3 * PI) / (12 - 3 * PI)
    exact = PI * (400 - 64) * HIGH - 2 * PI * section * ((20 - off) + (8 + off))
    assert found is not None and volume(found.wrapped) == pytest.approx(exact, rel=1e-9)


SQUARE = rectangle(-5, -4, 5, 4)
ANGLE = polygon([(-6, -6), (6, -6), (6, -1), (-1, -1), (-1, 6), (-6, 6)])


@pytest.mark.parametrize(
    ("boss", "area", "round_it", "corners", "inner"),
    [(SQUARE, 80.0, 36.0, 4, 0.0), (ANGLE, 95.0, 48.0, 5, 3.0)],
    ids=["square", "an angle with one inward corner of 3"],
)
def test_corners_that_stand_in_a_round_pocket(
    boss: Region, area: float, round_it: float, corners: int, inner: float
) -> None:
    """Pocket of 20; about each corner the section turns a quarter on the corner itself (Pappus)."""
    radius, missed = 1.5, (1 - PI / 4) * inner**2
    pocket = open_by_disc(subtract(disc((0.0, 0.0), 20.0), [boss]), inner) if inner else subtract(
        disc((0.0, 0.0), 20.0), [boss]
    )  # fmt: skip
    found = sewn(pocket, Frame(location=(1.0, 2.0, 3.0), axis=(1, 2, 2), ref_direction=(2, 1, -2)), -2.0, 8.0, radius)
    section, off = (1 - PI / 4) * radius**2, radius * (10 - 3 * PI) / (12 - 3 * PI)
    arcs_ = PI / 2 * (corners * off + (inner - off if inner else 0.0))
    left = section * (2 * PI * (20 - off) + round_it - 2 * inner + arcs_)
    assert found is not None and is_sound(found)
    assert volume(found.wrapped) == pytest.approx((PI * 400 - area - missed) * 10 - left, rel=1e-9)


@pytest.mark.parametrize(("gap", "fits"), [(3.1, True), (2.9, False)])
def test_bosses_nearer_than_two_radii_are_left_to_others(gap: float, fits: bool) -> None:
    """Two corners point at each other across the gap: their rounds would run through each other."""
    tips = [polygon([(s * gap / 2, 0), (s * (gap / 2 + 4), 4 * s), (s * (gap / 2 + 4), -4 * s)]) for s in (-1, 1)]
    found = sewn(subtract(disc((0.0, 0.0), 20.0), tips), Frame(), 0.0, HIGH, 1.5)
    assert (found is not None) == fits


def test_an_open_pocket_is_rounded_where_the_metal_is() -> None:
    """40 x 35 up to the metal's side at y = 20, corners of 5, a square boss; past the side the region is cut square."""
    outer = union([rectangle(-20, -10, 20, 23), rectangle(-15, -15, 15, 23), *(disc((x, -10), 5) for x in (-15, 15))])
    found = round_cornered(subtract(outer, [SQUARE]), Frame(), 0.0, 10.0, 1.5, (-30.0, -30.0, 30.0, 20.0))
    section, off = (1 - PI / 4) * 1.5**2, 1.5 * (10 - 3 * PI) / (12 - 3 * PI)
    left = section * (30 + 2 * 30 + PI * (5 - off) + 36 + 2 * PI * off)
    metal = box((-30, -30, -1), (30, 20, 11))
    exact = (40 * 35 - (4 - PI) / 2 * 25 - 80) * 10 - left
    assert volume(boolean.common(found, [metal]).wrapped) == pytest.approx(exact, rel=1e-9)


def test_a_border_with_inward_corners_is_left_to_others() -> None:
    assert sewn(rectangle(0, 0, 30, 20), Frame(), 0.0, HIGH, 1.0) is None
    cross = union([rectangle(-20, -5, 20, 5), rectangle(-5, -20, 5, 20)])
    assert sewn(cross, Frame(), 0.0, HIGH, 1.0) is None


def test_an_arc_eases_the_corner_between_a_line_and_a_bite() -> None:
    """A circle of radius 1 that touches y = 10 from below and one of radius 4 about (10, 10) from outside lies about
    (10 - sqrt(5^2 - 1), 9)."""
    bitten = subtract(union([rectangle(0, 0, 20, 10), disc((0, 5), 5), disc((20, 5), 5)]), [disc((10, 10), 4)])
    found = eased(bitten, 1.0, (100.0, 100.0, 101.0, 101.0))
    assert found is not None
    centres = sorted(e.centre for e in found.edges if e.centre is not None and abs(e.radius - 1.0) < 1e-9)
    aside = math.sqrt(5**2 - 1)
    wanted = [(10 - aside, 9), (10 + aside, 9)]
    assert np.array(centres) == pytest.approx(np.array(wanted), abs=1e-6)


def test_a_border_of_nothing_but_corners_is_eased_too() -> None:
    """Each corner of a rectangle gives way to a quarter of a circle: 1 - pi / 4 of its radius squared."""
    found = eased(rectangle(0, 0, 20, 10), 2.0, (100.0, 100.0, 101.0, 101.0))
    assert found is not None and found.area == pytest.approx(200 - (4 - math.pi) * 2.0**2, rel=1e-12)


def test_a_boolean_that_loses_a_piece_of_the_border_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing quicker works the border is cut piece by piece. 40 x 30 has four; of any two of them there is more
    in a corner than of one alone: twice the integral of the lower one's height times its way, r3 (5/3 - pi/2)."""

    def losing(shapes: Iterable[TopoDS_Shape]) -> TopTools_ListOfShape:
        given = list(shapes)
        return list_of(given[:-1] if len(given) > 1 else given)

    monkeypatch.setattr(round_corner, "_filleted", lambda *_: None)
    monkeypatch.setattr(round_corner, "_sewn", lambda *_: None)
    for module in (round_corner, attempts):
        monkeypatch.setattr(module, "list_of", losing, raising=False)
    found = round_cornered(rectangle(-20, -15, 20, 15), Frame(), 0.0, HIGH, 3.0, (-30.0, -30.0, 30.0, 30.0))
    left = (1 - PI / 4) * 9 * 140 - 4 * 27 * (5 / 3 - PI / 2)
    assert volume(found.wrapped) == pytest.approx(40 * 30 * HIGH - left, rel=1e-9)
