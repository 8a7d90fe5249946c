"""Plane regions against closed forms and against distances to their border, measured point by point."""

from __future__ import annotations

import math
import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.tolerances import LENGTH, OPENING_LEAST
from worker.kernel.planar import (
    NOWHERE,
    Region,
    apart,
    components,
    contains,
    disc,
    filled,
    grow,
    half_plane,
    inside_of,
    intersect,
    of_loops,
    open_by_disc,
    polygon,
    rectangle,
    subtract,
    union,
)
from worker.kernel.planar_edge import AT_ONCE, Edge, Point2, line, reverse, windings
from worker.kernel.planar_trace import SNAPS, SPECK, _joined

PI = math.pi
POCKET = rectangle(0, 0, 60, 40)


def segment_area(r: float, d: float) -> float:
    """Circular segment beyond a chord at distance d from the centre (elementary geometry)."""
    return r * r * math.acos(d / r) - d * math.sqrt(r * r - d * d)


def test_area_of_discs_and_polygons() -> None:
    assert disc((3, -2), 5).area == pytest.approx(25 * PI, rel=1e-14)
    assert polygon([(0, 0), (0, 3), (4, 0)]).area == pytest.approx(6, rel=1e-14)


def test_two_discs_meet_in_a_lens() -> None:
    # two circles of radius 5, centres 6 apart: two segments with chord distance 3
    lens = intersect(disc((0, 0), 5), disc((6, 0), 5))
    assert lens.area == pytest.approx(2 * segment_area(5, 3), rel=1e-12)
    assert union([disc((0, 0), 5), disc((6, 0), 5)]).area == pytest.approx(50 * PI - lens.area, rel=1e-12)


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (disc((70, 20), 9.9), True),
        (disc((70, 20), 10.0), False),  # touches
        (disc((70, 20), 10.1), False),
        (disc((67, 47), math.hypot(7, 7) - 0.01), True),  # off the corner, within the box of the disc
        (disc((67, 47), math.hypot(7, 7) + 0.01), False),
        (disc((30, 20), 5), False),  # within
        (rectangle(-10, -10, 80, 80), False),  # all round
        (subtract(rectangle(-10, -10, 80, 80), [rectangle(-1, -1, 61, 41)]), True),  # round it, beside it
        (polygon([(61, 10), (90, -30), (90, 60)]), True),
        (polygon([(59, 10), (90, -30), (90, 60)]), False),
        (NOWHERE, True),
    ],
)
def test_regions_that_keep_apart(other: Region, expected: bool) -> None:
    """Distances by hand from a pocket of 60 x 40."""
    assert apart(POCKET, other) is expected and apart(other, POCKET) is expected


@settings(max_examples=60, deadline=None)
@given(st.floats(-30, 30), st.floats(-30, 30), st.floats(1, 20), st.floats(0.02, 2), st.booleans())
def test_two_discs_keep_apart_by_their_radii(x: float, y: float, r: float, gap: float, overlapping: bool) -> None:
    between = math.hypot(x, y)
    s = between - r + (gap if overlapping else -gap)
    if s > 0.1 and r < between:
        assert apart(disc((0, 0), r), disc((x, y), s)) is not overlapping


def test_pieces_that_share_borders_join_to_one_loop() -> None:
    strips = [rectangle(k, 0, k + 1, 10) for k in range(20)]
    whole = union(strips)
    assert len(whole.loops) == 1
    assert len(whole.edges) == 4
    assert whole.area == pytest.approx(200)


def test_a_region_less_itself_is_nowhere() -> None:
    shape = subtract(POCKET, [disc((30, 20), 8)])
    assert not subtract(shape, [shape])
    assert intersect(shape, shape).area == pytest.approx(shape.area)
    assert union([shape, shape]).area == pytest.approx(shape.area)


def test_tangent_shapes_keep_their_areas() -> None:
    # a disc that touches all four sides of its square from inside, and one that touches from outside
    square, inner = rectangle(-5, -5, 5, 5), disc((0, 0), 5)
    assert subtract(square, [inner]).area == pytest.approx(100 - 25 * PI, rel=1e-9)
    assert union([square, disc((10, 0), 5)]).area == pytest.approx(100 + 25 * PI, rel=1e-9)


def test_growing_is_steiner_s_formula() -> None:
    # area of a convex body grown by r: A + L r + pi r^2 (Steiner)
    for shape, perimeter in ((POCKET, 200.0), (polygon([(0, 0), (30, 0), (0, 40)]), 120.0), (disc((0, 0), 7), 14 * PI)):
        assert grow(shape, 3).area == pytest.approx(shape.area + 3 * perimeter + 9 * PI, rel=1e-12)


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.0, math.pi / 2, 2.0, math.pi, 4.0, -math.pi / 2])
def test_spikes_grow_by_half_discs(turn: float) -> None:
    """What a rounded corner of 4 leaves of its square: two sides that end in spikes, where an arc touches them.

    Grown by 1, closed form: the square less a quarter of the disc, a strip along each side, a quarter ring, a quarter
    of a disc at the corner and half a disc at each spike.
    """

    def at(x: float, y: float) -> tuple[float, float]:
        return x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)

    hollow = Edge(at(4, 0), at(0, 4), at(4, 4), 4.0, -math.pi / 2)
    corner = Region(((line(at(0, 4), at(0, 0)), line(at(0, 0), at(4, 0)), hollow),))
    expected = 16 - 4 * math.pi + 2 * 4 + math.pi / 4 * (16 - 9) + math.pi / 4 + 2 * math.pi / 2
    assert grow(corner, 1.0).area == pytest.approx(expected, abs=1e-9)


def test_shrinking_undoes_growing_a_convex_body() -> None:
    assert grow(grow(POCKET, 3), -3).area == pytest.approx(2400, rel=1e-12)
    assert not grow(POCKET, -20.001)


def test_opening_leaves_the_corners() -> None:
    # (4 - pi) r^2 in four square corners; corners of an island bulge into the region and lose nothing
    assert open_by_disc(POCKET, 5).area == pytest.approx(2400 - (4 - PI) * 25, rel=1e-12)
    with_island = subtract(POCKET, [rectangle(20, 15, 40, 25)])
    assert open_by_disc(with_island, 4).area == pytest.approx(2200 - (4 - PI) * 16, rel=1e-12)


def test_a_cutter_as_wide_as_the_slot_enters() -> None:
    slot = union([rectangle(-20, -5, 20, 5), disc((-20, 0), 5), disc((20, 0), 5)])
    assert open_by_disc(slot, 5).area == pytest.approx(slot.area, rel=1e-9)
    assert open_by_disc(disc((0, 0), 5), 5).area == pytest.approx(25 * PI, rel=1e-9)
    assert not open_by_disc(slot, 5.001)


@pytest.mark.parametrize("over", [0.0, 1e-4, 2e-4, LENGTH / 4, LENGTH / 2])
def test_a_hair_more_than_the_slots_width_or_the_corners_radius_is_the_same_size(over: float) -> None:
    """All of both is covered, to the last bit: no sliver of the difference is left."""
    slot = union([rectangle(-20, -5, 20, 5), disc((-20, 0), 5), disc((20, 0), 5)])
    assert open_by_disc(slot, 5 + over).area == slot.area
    rounded = grow(rectangle(0, 0, 50, 30), 5)  # corners of radius 5
    assert open_by_disc(rounded, 5 + over).area == rounded.area
    assert not open_by_disc(slot, 5 + over + LENGTH / 2 + 1e-4)


def test_a_cutter_as_wide_as_the_gap_beside_a_post_passes_it() -> None:
    """A room with a block and a post 10 mm off it: a disc of 5 mm loses the room's four corners and nothing else. To
    pass it is smaller by the least slack, by (4 - pi) r^2 in the corners too."""
    room = subtract(rectangle(-40, -40, 140, 110), [rectangle(0, 0, 80, 50), rectangle(20, 60, 40, 70)])
    assert room.area - open_by_disc(room, 5).area == pytest.approx((4 - PI) * (5 - OPENING_LEAST) ** 2, abs=1e-6)
    assert room.area - open_by_disc(room, 5.01).area > 100


def test_opening_parts_a_region_at_its_neck() -> None:
    dumbbell = union([rectangle(0, 0, 20, 20), rectangle(20, 8, 40, 12), rectangle(40, 0, 60, 20)])
    parts = components(open_by_disc(dumbbell, 3))
    assert len(parts) == 2
    # into the mouth of the neck (4 wide) a disc of radius 3 bulges: a segment with chord 4
    each = 400 - (4 - PI) * 9 + segment_area(3, math.sqrt(9 - 4))
    assert [p.area for p in parts] == pytest.approx([each, each], rel=1e-9)


def test_holes_belong_to_their_component() -> None:
    frame = subtract(rectangle(0, 0, 10, 10), [rectangle(2, 2, 8, 8)])
    nested = union([frame, rectangle(4, 4, 6, 6)])
    assert sorted(p.area for p in components(nested)) == pytest.approx([4, 64])
    assert filled(nested).area == pytest.approx(100)
    assert not contains(frame, (5, 5))
    assert contains(nested, (5, 5))


def test_ends_that_miss_each_other_by_rounding_still_close() -> None:
    # seen in a real part: a border split at 7.49999999999998 and at 7.4999999999999805, asked about at that very height
    y = 7.49999999999998
    half = [line((-35.0, 5.0), (-20.0, 5.0)), line((-20.0, 5.0), (-20.0, y)), line((-20.0, y + 5e-16), (-20.0, 10.0))]
    rest = [line((-20.0, 10.0), (-35.00000000000001, 10.0)), line((-35.0, 10.0), (-35.0, 5.0))]
    assert inside_of([*half, *rest]).area == pytest.approx(75, rel=1e-9)


def test_slivers_of_every_size_that_a_point_is_told_by_still_close() -> None:
    """Bumps that begin a hair below the top they stand on, each thinner than another distance at which sides are
    looked at: above the top a triangle of each is left, 2.38 wide and 1 high."""
    under = rectangle(0, -5, 50, 0)
    starts = [(5 + 10 * k, -2 * snap) for k, snap in enumerate(SNAPS)]
    bumps = [polygon([(x, y), (x - 2, -4), (x + 4, -4), (x + 2, 1), (x + 0.02, 0)]) for x, y in starts]
    joined = union([under, *bumps])
    assert len(joined.loops) == 1
    assert joined.area == pytest.approx(250 + 4 * 2.38 / 2, abs=1e-5)


def test_three_arcs_along_one_another_are_cut_at_the_same_places() -> None:
    """Two fitted arcs lie within 1e-6 of a plate's round corner; the plate's arc crosses but one of the two.

    Closed form: the plate alone, 17 x 7 with two quarter discs of radius 3 and 3 x 3 between them on one side.
    """
    corners = [(0.0, -12.0), (0.0, -5.0), (-17.0, -5.0), (-20.0, -8.0), (-20.0, -9.0), (-17.0, -12.0)]
    a, b, c, d, e, f = corners
    rounds = (Edge(c, d, (-17.0, -8.0), 3.0, PI / 2), Edge(e, f, (-17.0, -9.0), 3.0, PI / 2))
    plate = Region(((line(f, a), line(a, b), line(b, c), rounds[0], line(d, e), rounds[1]),))
    p, q, tip = (-19.863665818621204, -7.1058981808117885), (-19.998118992621034, -7.893780858198813), (-19.026, -8.5)
    short = Edge(p, q, (-17.000001369819778, -7.999999772926407), 2.999998622999245, 0.26721867004483135)
    long = Edge(p, d, (-17.000001019684202, -7.999999836779804), 2.999998980315799, 0.30263243475200596)
    inner = [Region(((short, line(q, tip), line(tip, p)),)), Region(((long, line(d, e), line(e, tip), line(tip, p)),))]
    assert union([plate, *inner]).area == pytest.approx(17 * 7 + 9 * PI / 2 + 3, rel=1e-6)


@pytest.mark.parametrize(("deep", "walls"), [(0.0006, 2), (0.8, 6)])
def test_a_notch_of_a_micrometre_in_a_round_wall_is_none(deep: float, walls: int) -> None:
    """Closed form: the disc; a notch that a cutter could tell stays, and parts the wall."""
    body = subtract(disc((0, 0), 8), [rectangle(-deep / 2, 8 - deep, deep / 2, 9)])
    assert len(body.edges) == walls
    assert body.area == pytest.approx(64 * PI, rel=1e-8 if walls == 2 else 1e-2)


def test_many_plates_with_sides_along_each_other_are_joined_in_no_time() -> None:
    """Each pair of 40 plates shares sides: were points passed on again and again, no machine could hold them."""
    assert union(rectangle(0, 0, 10 + k / 10, 5) for k in range(40)).area == pytest.approx(13.9 * 5)


def test_rows_of_many_plates_that_overlap_are_as_large_as_their_rows() -> None:
    plates = [rectangle(i, j, i + 1.5, j + 1.5) for j in range(0, 24, 2) for i in range(12)]
    assert union(plates).area == pytest.approx(12 * (11 + 1.5) * 1.5)


def test_nothing_stays_nothing() -> None:
    assert not grow(NOWHERE, 1)
    assert not open_by_disc(NOWHERE, 1)
    assert union([]) == NOWHERE
    assert intersect(POCKET, NOWHERE) == NOWHERE
    assert subtract(POCKET, [NOWHERE]) is POCKET


coordinate = st.integers(-30, 30).map(float)
shapes = st.one_of(
    st.tuples(coordinate, coordinate, st.integers(1, 25), st.integers(1, 25)).map(
        lambda t: rectangle(t[0], t[1], t[0] + t[2], t[1] + t[3])
    ),
    st.tuples(coordinate, coordinate, st.integers(1, 15)).map(lambda t: disc((t[0], t[1]), float(t[2]))),
)
GRID = np.array([(x + 0.137, y + 0.291) for x in range(-50, 60, 2) for y in range(-50, 60, 2)], dtype=float)


def holds(region: Region) -> np.ndarray:
    return region.holds(GRID) if region else np.zeros(len(GRID), bool)


@settings(max_examples=60, deadline=None)
@given(st.lists(shapes, min_size=1, max_size=5), st.lists(shapes, min_size=1, max_size=4))
def test_regions_combine_like_sets(some: list[Region], others: list[Region]) -> None:
    a, b = union(some), union(others)
    assert (holds(a) == np.logical_or.reduce([holds(s) for s in some])).all()
    assert (holds(intersect(a, b)) == (holds(a) & holds(b))).all()
    assert (holds(subtract(a, others)) == (holds(a) & ~holds(b))).all()
    total = intersect(a, b).area + subtract(a, [b]).area
    assert total == pytest.approx(a.area, abs=1e-6)
    assert union([a, b]).area == pytest.approx(a.area + b.area - intersect(a, b).area, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.lists(shapes, min_size=1, max_size=4), st.sampled_from([0.7, 2.0, 3.3]))
def test_offsets_are_distances(some: list[Region], amount: float) -> None:
    a = union(some)
    distance = a.signed_distance(GRID)
    clear = np.abs(np.abs(distance) - amount) > 1e-6
    assert (holds(grow(a, amount)) == (distance > -amount))[clear].all()
    assert (holds(grow(a, -amount)) == (distance > amount))[clear].all()


@settings(max_examples=40, deadline=None)
@given(st.lists(shapes, min_size=1, max_size=4), st.sampled_from([1.3, 2.6]))
def test_opening_shrinks_and_is_done_at_once(some: list[Region], radius: float) -> None:
    a = union(some)
    opened = open_by_disc(a, radius)
    assert opened.area <= a.area + 1e-9
    assert not (holds(opened) & ~holds(a)).any()
    assert open_by_disc(opened, radius).area == pytest.approx(opened.area, abs=1e-3)


def test_a_hair_that_goes_out_in_specks_and_back_in_one_leaves_no_edge_without_length() -> None:
    out, back = 0.9 * SPECK, 1.8 * SPECK
    corners = [(0.0, 0.0), (1.0, 0.0), (1.0, out), (1.0, back), (1.0, 0.0), (1.0, 1.0), (0.0, 0.0)]
    loop = _joined([Edge(a, b) for a, b in pairwise(corners)])
    assert [(e.a, e.b) for e in loop] == [((0.0, 0.0), (1.0, 0.0)), ((1.0, 0.0), (1.0, 1.0)), ((1.0, 1.0), (0.0, 0.0))]


@pytest.mark.parametrize("off", [-6e-9, 2e-9, 6e-9])
@pytest.mark.parametrize("turned", [0.3, 2.0, 4.4])
def test_a_half_plane_a_hair_off_a_wall_with_a_round_end_has_one_straight_border(off: float, turned: float) -> None:
    # Four sides, closed form: where the arc leaves the wall, its deviation s^2/2R stays below any snap for millimetres.
    radius, end = 20.0, 40.0

    def placed(x: float, y: float) -> Point2:
        return x * math.cos(turned) - y * math.sin(turned) + 3.3, x * math.sin(turned) + y * math.cos(turned) - 7.7

    corners = [(-60.0, 0.0), (-60.0, -150.0), (end + radius, -150.0), (end + radius, -radius), (end, 0.0)]
    points = [placed(*corner) for corner in corners]
    arc = Edge(points[3], points[4], placed(end, -radius), radius, math.pi / 2)
    part = of_loops([[*map(line, points[:3], points[1:4]), arc, line(points[4], points[0])]])
    beyond = half_plane(placed(0.0, off), (-math.sin(turned), math.cos(turned)), 300.0)
    assert len(subtract(beyond, [part]).edges) == 4


@pytest.mark.parametrize(("off", "edges"), [(1e-5, 5), (1e-8, 4)])
def test_a_corner_counts_from_what_the_kernel_tells_apart(off: float, edges: int) -> None:
    # The kernel takes 1e-7 mm for nothing (its confusion): a side bent by less is one side, by more two
    bent = polygon([(0, 0), (50, -off), (100, 0), (100, 50), (0, 50)])
    assert len(union([bent, rectangle(0, 40, 100, 60)]).edges) == edges


def test_points_of_every_block_are_counted() -> None:
    """Inside a square and a circle by their own equations, however many points are asked at once."""
    regions = rectangle(0, 0, 10, 10), disc((20, 5), 4)
    points = np.random.default_rng(3).uniform((-2, -2), (26, 9), (2 * AT_ONCE + 7, 2))
    x, y = points.T
    expected = np.stack([(x > 0) & (x < 10) & (y > 0) & (y < 10), np.hypot(x - 20, y - 5) < 4], axis=1)
    assert np.array_equal(windings([region.table for region in regions], points) > 0, expected)


def test_the_nearest_of_many_edges_is_looked_for_near_each_place() -> None:
    """A plate of 400 holes of radius 3, 10 mm apart: by hand a place lies as far from its hole's circle as its distance
    from the middle differs from 3 (inside, and in the web). With less at hand than all distances of 2,000 places from
    804 edges, eight bytes each: 13 MB."""
    holes = [disc((10.0 * i, 10.0 * j), 3.0).loops[0] for i in range(20) for j in range(20)]
    turned = (tuple(map(reverse, loop[::-1])) for loop in holes)
    plate = Region((*rectangle(-5, -5, 195, 195).loops, *turned))
    places = np.random.default_rng(5).uniform(0, 190, (2000, 2))
    tracemalloc.start()
    found = plate.signed_distance(places)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    off = places - 10 * np.round(places / 10)
    np.testing.assert_allclose(found, np.hypot(*off.T) - 3.0, atol=1e-9)
    assert most < 8e6
