"""The field's plane regions against closed forms: corner residuals, slots of the cutter's own width, allowances."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from worker.field.clearing import _plunged
from worker.field.ground import recess_ground
from worker.field.lines import NONE, Lines, union
from worker.field.outlines import Facets, wound
from worker.field.plane import Disc, Everywhere, Filled, Grown, Join, Minus, Outline, Shadow, discs, known
from worker.field.rooted import rooted
from worker.field.tight import Nowhere, _far_off, opened

ROOM = (-1.0, -1.0, 41.0, 31.0)


def _rectangle(x0, y0, x1, y1, z=0.0):
    corners = np.array([[x0, y0, z], [x1, y0, z], [x1, y1, z], [x0, y1, z]], float)
    return corners[np.array([[0, 1, 2], [0, 2, 3]])]


def _above(*triangles):
    """The shadow of triangles above any height."""
    return lambda z: Shadow(np.concatenate(triangles), z)


def _areas(region, h=0.2, low=-60.0, high=80.0):
    """By scan lines in x and in y, within a square."""
    at = np.arange(low + h / 2, high, h)
    found = []
    for along in (0, 1):
        lines = region.scan(along, at)
        found.append(float((np.clip(lines.stop, low, high) - np.clip(lines.start, low, high)).sum() * h))
    return tuple(found)


def test_shadows_overlap_and_holes_stay():
    frame = np.concatenate(
        [
            _rectangle(0, 0, 40, 10, 1),
            _rectangle(0, 20, 40, 30, 2),
            _rectangle(0, 0, 10, 30, 3),
            _rectangle(30, 0, 40, 30, 4),
        ]
    )
    assert _areas(Shadow(frame)) == pytest.approx((40 * 30 - 20 * 10,) * 2)
    assert _areas(Shadow(frame, 2.5)) == pytest.approx((2 * 10 * 30,) * 2)
    assert _areas(Filled(Shadow(frame))) == pytest.approx((1200.0,) * 2)
    at = (np.arange(-59.9, 80, 0.2), np.arange(-59.9, 80, 0.2))
    found = rooted(known(Shadow(frame, 2.5), at), Disc(35, 3, 1), (-60, -60, 80, 80), beside=False)
    assert _areas(found) == pytest.approx((300.0,) * 2)


def test_what_lines_one_way_see_touch_the_root_is_kept_whole_by_both():
    """A disc that touches a floor in one point, between two lines across: lines along the floor's side see it there."""
    at = (np.arange(-59.9, 80, 0.2), np.arange(-59.9, 80, 0.2))
    floor = Shadow(_rectangle(5, -8, 20, 8, 0))
    found = rooted(known(Disc(0, 0, 5), at), floor, (-60, -60, 80, 80), beside=True)
    assert _areas(found) == pytest.approx((25 * math.pi,) * 2, rel=1e-2)
    apart = rooted(known(Disc(-1, 0, 5), at), floor, (-60, -60, 80, 80), beside=True)
    assert _areas(apart) == (0.0, 0.0)


@pytest.mark.parametrize("turn", [0.0, 0.3, math.pi / 2])
@pytest.mark.parametrize("gap", [-1e-4, 0.01, 0.1])
def test_a_strip_beside_a_floor_is_met_only_where_it_touches(gap, turn):
    """Lines 0.2 mm apart: a strip 0.01 mm off lies on the next line, and lines across both see that it is apart."""
    at = (np.arange(-59.9, 80, 0.2), np.arange(-59.9, 80, 0.2))
    floor, strip = (_turned(_rectangle(-9, y0, 9, y1, 0), turn) for y0, y1 in ((-4, 1), (1 + gap, 4)))
    found = rooted(known(Shadow(strip, -1.0), at), Shadow(floor, -1.0), (-60, -60, 80, 80), beside=True)
    assert _areas(found) == pytest.approx((18 * (3 - gap) if gap < 0 else 0.0,) * 2, rel=2e-2)


def _turned(triangles, angle):
    c, s = math.cos(angle), math.sin(angle)
    return triangles @ np.array(((c, s, 0.0), (-s, c, 0.0), (0.0, 0.0, 1.0)))


def test_a_slope_throws_its_shadow_only_where_it_is_high_enough():
    ramp = np.array([[[0, 0, 0], [10, 0, 10], [10, 5, 10]], [[0, 0, 0], [10, 5, 10], [0, 5, 0]]], float)
    for z in (0.0, 2.4, 7.0):
        assert _areas(Shadow(ramp, z)) == pytest.approx((5 * (10 - z),) * 2)


def test_a_cut_slope_is_told_by_its_outline_not_by_the_fan_of_its_triangles():
    """A square of 8 that rises by 1 in 1, a fan of 800 about a point low in it, cut half way up: 8 x 4 is left.

    Two legs of each triangle that is cut lie within it: told one by one they come to thousands of millimetres.
    """
    rim = [(0.0, k) for k in range(200)] + [(k, 200.0) for k in range(200)]
    rim = np.array(rim + [(200 - a, 200 - b) for a, b in rim]) / 25
    apex = np.full((len(rim), 2), (0.5, 4.1))
    flat = np.stack((apex, np.roll(rim, -1, axis=0), rim), axis=1)
    sides = Facets(np.concatenate((flat, flat[:, :, :1]), axis=2)).sides(4.0).ends
    assert np.hypot(*(sides[:, 1] - sides[:, 0]).T).sum() == pytest.approx(2 * (8 + 4))
    at = np.arange(0.013, 8.0, 0.1)
    assert wound(sides, 0, at).lengths(len(at)) == pytest.approx(np.full(len(at), 4.0))


@pytest.mark.parametrize("amount", [0.2, 1.0, 3.7])
def test_an_allowance_grows_walls_with_round_corners(amount):
    exact = 40 * 30 + 2 * 70 * amount + math.pi * amount**2
    grown = Grown(Shadow(_rectangle(0, 0, 40, 30), -1.0), amount)
    assert _areas(grown) == pytest.approx((exact,) * 2, abs=0.2 * amount + 0.1)


@pytest.mark.parametrize("radius", [5.0, 3.0, 1.5])
def test_a_cutter_leaves_its_radius_in_the_corners(radius):
    """Corner residual (4 - pi) r^2 (closed form)."""
    left = np.array(_areas(Shadow(_rectangle(0, 0, 40, 30)))) - _areas(
        opened(Shadow(_rectangle(0, 0, 40, 30)), radius, ROOM)
    )
    assert left == pytest.approx((4 - math.pi) * radius**2, abs=0.01 * radius**2 + 0.02)


@pytest.mark.parametrize("radius", [4.0, 1.5])
def test_corner_residuals_converge_with_the_cells(radius):
    """(4 - pi) r^2 (closed form): lines h apart miss 2 * 0.0609 h^1.5 sqrt(2 r) of a corner at most, arcs the rest."""
    whole = Shadow(_rectangle(0, 0, 40, 30))
    cleared, exact = opened(whole, radius, ROOM), (4 - math.pi) * radius**2
    for h in (0.4, 0.2, 0.1, 0.05):  # cell borders in the walls, as on the lattice
        missed = 4 * 2 * 0.0609 * h**1.5 * math.sqrt(2 * radius)
        left = np.array(_areas(whole, h, -1.6, 41.6)) - np.array(_areas(cleared, h, -1.6, 41.6))
        assert left == pytest.approx(exact, abs=missed + 2.5e-3 * exact), h


def test_a_corner_that_is_slightly_too_tight_is_found():
    rounded = Join(
        (
            Shadow(np.concatenate([_rectangle(0, 4, 40, 26), _rectangle(4, 0, 36, 30)])),
            *(Disc(x, y, 4) for x in (4, 36) for y in (4, 26)),
        )
    )
    whole = np.array(_areas(rounded))
    assert np.abs(whole - _areas(opened(rounded, 4.0, ROOM))).max() < 0.05
    assert whole - _areas(opened(rounded, 5.0, ROOM)) == pytest.approx((4 - math.pi) * (25 - 16), abs=0.05)


def test_a_slot_as_wide_as_the_cutter_is_entered_and_a_narrower_one_not():
    slot = Join((Shadow(_rectangle(-50, 10, 30, 18)), Disc(30, 14, 4)))
    assert _areas(opened(slot, 4.0, ROOM)) == pytest.approx(_areas(slot), abs=0.01)
    assert _areas(opened(slot, 4.1, ROOM), low=0.0, high=30.0) == (0.0, 0.0)
    assert isinstance(opened(Disc(20, 15, 4), 4.5, ROOM), Nowhere)


def test_an_island_is_gone_round():
    ground = Minus(Shadow(_rectangle(0, 0, 40, 30)), Disc(20, 15, 4))
    left = np.array(_areas(ground)) - _areas(opened(ground, 5.0, ROOM))
    assert left == pytest.approx((4 - math.pi) * 25, abs=0.15)  # both gaps are wide enough: only corners stay


@pytest.mark.parametrize(("deep", "enters"), [(0.005, True), (0.05, False)])
def test_chords_of_a_hole_s_own_mouth_bar_no_cutter_of_its_size(deep, enters):
    """Triangles stand up to 0.01 off the part: a cutter of 8 plunges past what reaches less than that into its way."""
    at = np.arange(-5.95, 6.0, 0.1)
    free = Minus(Disc(0, 0, 4), Shadow(_rectangle(4 - deep, -1, 6, 1)))
    scanned = known(free, (at, at))
    found = _plunged(SimpleNamespace(scan_lines=(at, at)), Disc(0, 0, 4), scanned)
    assert isinstance(found, Nowhere) is not enters


def test_an_outline_is_filled_from_its_sides():
    ring = np.array([[0, 0], [10, 0], [10, 10], [5, 4], [0, 10]], float)
    assert _areas(Outline(np.stack((ring, np.roll(ring, -1, axis=0)), axis=1))) == pytest.approx((70.0,) * 2, abs=0.3)


def test_open_sides_go_out_between_the_walls():
    floor, top = _rectangle(0, 0, 20, 10, 0), 5.0
    step = recess_ground(floor, _above(floor, _rectangle(0, 10, 20, 30, top)))
    assert _areas(step) == pytest.approx(((10.0 + 60.0) * 140,) * 2, rel=5e-3)  # all in front of the one wall
    slot = recess_ground(floor, _above(floor, _rectangle(-9, 10, 20, 30, top), _rectangle(-9, -30, 20, 0, top)))
    assert _areas(slot) == pytest.approx((140 * 10,) * 2, rel=5e-3)
    ring = [_rectangle(-9, 10, 29, 30, top), _rectangle(-9, -30, 29, 0, top), _rectangle(-9, -30, 0, 30, top)]
    blind = recess_ground(floor, _above(floor, *ring))
    assert _areas(blind) == pytest.approx((80 * 10,) * 2, rel=5e-3)
    pocket = recess_ground(floor, _above(floor, *ring, _rectangle(20, -30, 29, 30, top)))
    assert _areas(pocket) == pytest.approx((200.0,) * 2)
    assert isinstance(recess_ground(floor, _above(floor)), Everywhere)


def test_past_a_border_that_a_boss_touches_in_two_cusps_all_is_open():
    """A boss of 20 x 15 on the border of its floor, to which its two round corners there (radius 5) run out.

    Closed form: the window without the boss. Its walls, carried on along the border, leave open all that lies past it.
    """
    turns = np.radians(np.arange(0, 91, 3))
    left = [(5 - 5 * math.sin(t), 5 - 5 * math.cos(t)) for t in turns]
    wall = [*left, (0, 15), (20, 15), *((20 - x, y) for x, y in left[::-1])]
    border = [*((-10, y) for _, y in left), (-10, 20), (30, 20), *((30, y) for _, y in left[::-1])]
    pairs = list(zip(wall, border, wall[1:], border[1:], strict=False))
    floor = np.array([[(*p, 0.0) for p in t] for a, b, c, d in pairs for t in ((a, c, b), (b, c, d))])
    boss = np.array(
        [[(*p, 5.0) for p in (a, (10.0, 10.0), b)] for a, b in zip(wall, [*wall[1:], wall[0]], strict=True)]
    )
    exact = 140**2 - (20 * 15 - 2 * 5**2 * (1 - math.pi / 4))
    assert _areas(recess_ground(floor, _above(floor, boss), top=5.0)) == pytest.approx((exact,) * 2, abs=2.0)


def test_a_bite_in_a_wall_opens_no_way():
    """A floor of 20 x 10; a bore bites 3 x 4 out of it beside its long wall: the wall's line closes it again."""
    places = [(0, 0), (8, 0), (8, 3), (12, 3), (12, 0), (20, 0), (20, 10), (0, 10)]
    corners = dict(zip("abcdefgh", places, strict=True))
    floor = np.array(
        [[(*corners[k], 0.0) for k in names] for names in ("abc", "ach", "cdh", "hdg", "dfg", "def")], float
    )
    ring = [_rectangle(*corner, 5) for corner in ((-9, 10, 29, 30), (-9, -30, 0, 30), (20, -30, 29, 30))]
    ring += [_rectangle(-9, -30, 8, 0, 5), _rectangle(12, -30, 29, 0, 5)]
    assert _areas(recess_ground(floor, _above(floor, *ring))) == pytest.approx((200.0,) * 2, abs=0.5)


def test_over_an_island_that_ends_with_the_pocket_there_is_no_ground():
    outer, inner = [(0, 0), (20, 0), (20, 10), (0, 10)], [(6, 3), (14, 3), (14, 7), (6, 7)]
    sides = [(outer[k], outer[(k + 1) % 4], inner[k], inner[(k + 1) % 4]) for k in range(4)]
    floor = np.array([[(*p, 0.0) for p in t] for a, b, c, d in sides for t in ((a, b, c), (b, d, c))])
    ring = [
        _rectangle(-9, 10, 29, 30, 5),
        _rectangle(-9, -30, 29, 0, 5),
        _rectangle(-9, -30, 0, 30, 5),
        _rectangle(20, -30, 29, 30, 5),
    ]
    for height, area in ((5.0, 200.0 - 32.0), (2.0, 200.0)):
        above = _above(floor, *ring, _rectangle(6, 3, 14, 7, height))
        assert _areas(recess_ground(floor, above, top=5.0)) == pytest.approx((area,) * 2, abs=0.5)


@pytest.mark.parametrize(("width", "radius"), [(6.0, 8.0), (5.3, 8.0), (3.0, 4.0), (1.7, 1.9)])
def test_a_cutter_that_passes_a_narrow_mouth_sinks_in_by_a_segment(width, radius):
    """Closed form: the segment of the circle over a chord as wide as the mouth."""
    ground = Join((Shadow(_rectangle(-50, -50, 50, 0)), Shadow(_rectangle(7.03, -1, 7.03 + width, 3.5))))
    segment = radius**2 * math.asin(width / 2 / radius) - width / 4 * math.sqrt(4 * radius**2 - width**2)
    covered = opened(ground, radius, (-20, -20, 30, 10))
    left = np.array(_areas(ground, h=0.02)) - _areas(covered, h=0.02)
    assert left == pytest.approx(3.5 * width - segment, abs=4e-3 * segment + 2e-3)


@pytest.mark.parametrize("below", [1e-9, 1e-7, 3e-7, 7e-7, 1e-4])
def test_discs_for_one_that_moves_leave_no_chips_at_the_wall_that_they_touch(below: float) -> None:
    """A disc of 10 along y = 0 covers all below y = 10: a line at the wall is one stretch, not hundreds of chips."""
    points = np.arange(0.0, 40.1, 0.25)
    found = union(discs(points, np.zeros(len(points)), 10.0, np.array([10.0 - below]), 0.25))
    assert len(found) == 1
    assert found.start[0] == pytest.approx(-math.sqrt(100 - (10 - below) ** 2), abs=0.125)


@pytest.mark.parametrize("along", [0, 1])
def test_boxes_that_no_stretch_comes_near_are_told_from_the_others(along):
    """Source: each stretch's distance from the box along x and y, one by one; some lie just as far off as the reach."""
    rng = np.random.default_rng(7)
    at, line = np.arange(0.0, 20.0, 0.5), np.sort(rng.integers(0, 40, 30))
    start = np.round(rng.uniform(0, 20, 30), 1)
    some = Lines(line, start, start + np.round(rng.uniform(0, 1, 30), 1))
    lines = (some, NONE) if along == 0 else (NONE, some)
    room = (-5.0, -5.0, 25.0, 25.0)
    for x, y in np.ndindex(19, 19):
        p, q = (x, y) if along == 0 else (y, x)
        each = zip(some.start.tolist(), some.stop.tolist(), at[some.line].tolist(), strict=True)
        off = [max(p - stop, start - p - 1, q - t, t - q - 1) for start, stop, t in each]
        far = _far_off((x, y, x + 1, y + 1), lines, (at, at), 0.5, room)
        assert far == all(gap >= 0.5 for gap in off)


def test_a_cutter_rolls_over_two_corners_that_stand_out():
    """A ledge 0.635 high that ends 2.4 before the wall: the cutter rests on both its corner and the wall's. It leaves
    the triangle between them less the segment that its arc cuts off (closed form)."""
    radius, (w, h) = 10.0, (2.4, 0.635)
    ground = Minus(Everywhere(), _above(_rectangle(0, 0, 40, 10, 1), _rectangle(5, 9, 40 - w, 10 + h, 1))(0.0))
    cleared = opened(ground, radius, (-1, -1, 41, 12))
    at = np.arange(36.0005, 41, 0.001)
    stood = ground.scan(1, at).start, cleared.scan(1, at).start
    upper = [s[s > 5] for s in stood]  # the line above the metal, one an abscissa past it
    turned = 2 * math.asin(math.hypot(w, h) / (2 * radius))
    left = w * h / 2 - radius**2 / 2 * (turned - math.sin(turned))
    assert float((upper[1] - upper[0]).sum() * 0.001) == pytest.approx(left, rel=0.02)


def test_ground_past_a_round_wall_goes_on_along_its_tangent():
    """A round wall of radius 10 about the origin from 120 to 240 degrees: its tangents at both ends open at 30 degrees
    either way, from (-5, 10 sin 120) on (plane trigonometry). Chords 4 mrad long end 2 mrad off them."""
    turned = np.radians(np.linspace(120, 240, 525))
    rim = np.stack((10 * np.cos(turned), 10 * np.sin(turned)), axis=1)

    def corners(a, b, c):
        return np.stack([np.insert(p, 2, 0.0, axis=1) for p in (a, b, c)], axis=1)

    floor = corners(np.zeros((524, 2)), rim[:-1], rim[1:])
    wall = np.concatenate((corners(rim[:-1], 2 * rim[:-1], rim[1:]), corners(rim[1:], 2 * rim[:-1], 2 * rim[1:])))
    wall[:, :, 2] = 5.0
    lines = recess_ground(floor, _above(floor, wall)).scan(1, np.array([30.0]))
    up = 10 * math.sin(math.radians(120)) + 35 * math.tan(math.radians(30))
    assert (float(lines.start.min()), float(lines.stop.max())) == pytest.approx((-up, up), abs=2e-3)
