"""Steps that the solid model alone could sweep once, swept by the field itself: against closed forms.

What a corner r leaves between floor and wall has the section (1 - pi/4) r^2, its centroid (10 - 3 pi) / (12 - 3 pi) r
off the wall: once along straight walls, turned about corners (Pappus).
"""

import math

import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.Geom import Geom_BezierSurface
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TColgp import TColgp_Array2OfPnt

from examples.shapes import Shape, box, cone, cut, cylinder, polygon, prism, rounded_block
from schemas.tool import Tool
from tests.support.filleted import filleted_at
from tests.support.trial import inputs, plan, raw_box, setup, step, tool
from tests.support.undercut import FINISH, RAW, SLOT, mouth, t_mill, t_slot
from worker.field import second_opinion
from worker.field.reached import reached
from worker.field.view import View
from worker.kernel.shape import edges, translate_body
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage.removal import freeform, transitions

X, Y, Z, DEEP = 48, 38, 14, 9
LONG, WIDE, CORNER = 40, 30, 5
PLATE = raw_box((-X / 2, -Y / 2, -Z), (X / 2, Y / 2, 0))
POCKET, CHAMFER, REGION = {"class": "closed_pocket"}, {"class": "chamfer"}, {"class": "region"}
FREE = "freeform_operation"


def _opinion(part: Shape, *works, raw=PLATE):
    found = inputs(part, plan(raw, setup(list(works))))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    assert opinion.borrowed == ()
    return opinion


def _seen(part: Shape, *works, raw=PLATE):
    opinion = _opinion(part, *works, raw=raw)
    assert opinion.agrees
    return opinion


def _plate(*hollows):
    plate = box((-X / 2, -Y / 2, -Z), (X / 2, Y / 2, 0))
    return cut(plate, *hollows) if hollows else plate


def _pocket(*standing):
    room = rounded_block((-LONG / 2, -WIDE / 2, -DEEP), (LONG / 2, WIDE / 2, 1), CORNER)
    return _plate(cut(room, *standing) if standing else room)


def _ring(r, a, b, corner, sharp=0):
    """What a corner r leaves once round a rectangle with round corners; about sharp ones, turned outward."""
    off = r * (10 - 3 * math.pi) / (12 - 3 * math.pi)
    turned = corner + off if sharp else corner - off
    return (1 - math.pi / 4) * r**2 * (2 * (a + b - 4 * corner) + 2 * math.pi * turned)


def _area(a, b, corner):
    return a * b - (4 - math.pi) * corner**2


def _bull(diameter, corner):
    return tool("bullnose_endmill", diameter, RE=corner)


def _in_pocket(past):
    a, b, corner = LONG + 2 * past, WIDE + 2 * past, CORNER + past
    return _area(a, b, corner) * DEEP - _ring(2, a, b, corner)


def _round_island(past):
    """An island of 10 x 8 whose sharp edges a cutter leaves sharp, 0.4 further in: round them its corner turns."""
    return _in_pocket(past) - (10 - 2 * past) * (8 - 2 * past) * DEEP - _ring(2, 10 - 2 * past, 8 - 2 * past, 0, 1)


INTO = {
    "walls": ((), -0.5, _in_pocket(0.5)),
    "walls and an island": ((box((-5, -4, -20), (5, 4, 5)),), -0.4, _round_island(0.4)),
}


@pytest.mark.parametrize("name", INTO)
def test_a_round_corner_past_the_walls(name):
    standing, side, exact = INTO[name]
    opinion = _seen(_pocket(*standing), step(FINISH, _bull(8, 2), POCKET, allowance_side=side))
    assert opinion.field_volume == pytest.approx(X * Y * Z - exact, abs=opinion.bound)
    assert opinion.relative_bound < 1e-4


def test_a_depth_below_a_floor_that_the_corner_fits():
    part = filleted_at(_pocket(), 3, lambda x, y, z: abs(z + DEEP) < 1e-6)
    opinion = _seen(part, step(FINISH, _bull(8, 3), POCKET, bottom_z=-DEEP - 0.5))
    exact = _area(LONG, WIDE, CORNER) * (DEEP + 0.5) - _ring(3, LONG, WIDE, CORNER)
    assert opinion.field_volume == pytest.approx(X * Y * Z - exact, abs=opinion.bound)


def test_a_drill_on_the_chamfer_of_its_hole():
    """A point of 118 degrees touches the upper edge of a chamfer of 45: a cone of 59 over a ring from 5 to 6."""
    part = _plate(cylinder((0, 0, -Z - 1), (0, 0, 1), 10), cone((0, 0, -1), (0, 0, 0), 10, 12))
    opinion = _seen(part, step("drilling", tool("twist_drill", 14, LU=60), CHAMFER))
    taken = 2 * math.pi / math.tan(math.radians(59)) * (3 * (36 - 25) - (216 - 125) / 3)
    assert opinion.field_volume == pytest.approx(X * Y * Z - taken, abs=opinion.bound)


FLANKS = {"more upright": (80, "lower"), "as good as the chamfer's": (90, "upper"), "flatter": (118, "upper")}


@pytest.mark.parametrize("name", FLANKS)
def test_a_flank_along_a_chamfer_that_climbs(name):
    """1.5 off both faces at an edge that falls by 6 in 48. Square to the edge its plane stands at 45 degrees, that of a
    flank whose normal is sin f high at t: sin t = sin f / cos a. From the side that it touches to the upright plane
    over the other one stands a wedge, with 135 degrees at the upper edge or 45 at the lower one."""
    angle, side = FLANKS[name]
    slanted = prism(polygon([(-24, -19, -14), (24, -19, -14), (24, -19, -6), (-24, -19, 0)]), (0, 38, 0))
    maker = BRepFilletAPI_MakeChamfer(slanted)
    for edge in edges(slanted):
        curve = BRepAdaptor_Curve(edge)
        at = curve.Value((curve.FirstParameter() + curve.LastParameter()) / 2)
        if abs(at.Y() - 19) < 1e-6 and abs(at.Z() + 3) < 1e-6:
            maker.Add(1.5, edge)
    lean = math.atan2(6, 48)
    turn = math.asin(math.sin(math.radians(angle / 2)) / math.cos(lean)) - math.pi / 4
    far = math.radians(135 if side == "lower" else 45)
    wedge = 1.5**2 * math.sin(abs(turn)) * math.sin(far) / math.sin(far + abs(turn))
    taken = 48 * 1.5 * (4 + 0.75 / math.cos(lean)) - wedge * 48 / math.cos(lean)
    works, raw = step("chamfering", tool("chamfer_mill", 12, SIG=angle), CHAMFER), raw_box((-24, -19, -14), (24, 19, 1))
    opinion = _seen(maker.Shape(), works, raw=raw)
    assert opinion.solid_volume == pytest.approx(X * Y * (Z + 1) - taken, abs=1e-3)


def test_round_a_part_that_is_a_block():
    works = step("side_finish_milling", tool("endmill", 8), {"class": "profile_feature"}, allowance_side=0.5)
    opinion = _seen(_plate(), works, raw=raw_box((-X, -Y, -Z), (X, Y, 0)))
    assert opinion.field_volume == pytest.approx(((X + 1) * (Y + 1) - (4 - math.pi) * 0.25) * Z, abs=opinion.bound)


HEADS = {"no length of edge": ({"LU": 8, "APMX": None}, 0.0), "edges of 1, lower": ({"APMX": 5, "RE": 1}, 1.0)}


@pytest.mark.parametrize("name", HEADS)
def test_heads(name):
    """In a T-slot's foot of 18 x 8 under a mouth of 10, with a recess in one wall up to half its height."""
    sizes, corner = HEADS[name]
    cutter = {key: value for key, value in t_mill(**sizes).items() if value is not None}
    part = cut(t_slot(), box((-41, -5, -20), (41, 5, -12)), box((-5, 9, -20), (5, 12, -16)))
    opinion = _seen(part, mouth(), step(FINISH, cutter, SLOT), raw=RAW)
    taken = 80 * 10 * 20 + 80 * 8 * 8 - 4 * 80 * (1 - math.pi / 4) * corner**2
    assert opinion.field_volume == pytest.approx(80 * 60 * 40 - taken, abs=opinion.bound)


WINDOW = 30 * 10 * 20 - (4 - math.pi) * 3**2 * 20
LEDGES = {"at one end": box((14, -5, -8), (22, 5, 1)), "beside, in line with its ends": box((-15, 4, -14), (15, 21, 1))}


@pytest.mark.parametrize("name", LEDGES)
def test_a_window_with_a_ledge_is_its_own_column(name):
    """30 x 10 through 20, by a cutter of 6: what stands over the ledge is another feature's, in both computations."""
    part = cut(box((-30, -20, -20), (30, 20, 0)), box((-15, -5, -21), (15, 5, 1)), LEDGES[name])
    works = step(FINISH, tool("endmill", 6), POCKET)
    opinion = _seen(part, works, raw=raw_box((-30, -20, -20), (30, 20, 2)))
    over = (300 - (4 - math.pi) * 3**2) * 2
    assert opinion.solid_volume == pytest.approx(60 * 40 * 22 - WINDOW - over, abs=1e-3)


@pytest.mark.parametrize("way", [1, -1])
def test_walls_that_pass_each_other_on_two_lines_close_the_gap_between_them(way):
    """A window bites into a pocket's wall; past it the wall goes on 4 farther out, in the window's own. By a cutter of
    6, 10 deep: the pocket's two rectangles, what of the window lies between those lines, all that is past its open end;
    nothing of the blank beyond the wall."""

    def room(x0, y0, z0, x1, y1, z1):
        (low, high) = sorted((way * x0, way * x1))
        return box((low, y0, z0), (high, y1, z1))

    hollows = (room(10, 5, 10, 40, 20, 21), room(10, 20, 10, 44, 41, 21), room(36, 14, -1, 44, 26, 21))
    low, high = sorted((way * 58, 0))
    works = step(FINISH, tool("endmill", 6), {"class": "open_pocket"})
    opinion = _seen(cut(room(0, 0, 0, 50, 40, 20), *hollows), works, raw=raw_box((low, 0, 0), (high, 48, 20)))
    corners = 3 * (1 - math.pi / 4) * 3**2
    taken = (30 * 15 + 34 * (48 - 20) + 4 * 6 - corners) * 10
    assert opinion.solid_volume == pytest.approx(58 * 48 * 20 - taken, abs=0.1)


def test_a_ball_leaves_its_round_before_the_end_walls_of_a_trough():
    """A ball of 5 stands no lower than the trough's bottom, so t above that it stays 5 - sqrt(25 - (5 - t)^2) off the
    two end walls; rolling along the bottom it leaves more: a section of (1 - pi/4) 5^2 turned about its axis."""
    radius = 8
    part = cut(box((0, 0, 0), (50, 30, 20)), cylinder((10, 15, 20), (40, 15, 20), 2 * radius))
    works = step(FREE, tool("ballnose_endmill", 10), {"class": "slot"})
    opinion = _seen(part, works, raw=raw_box((0, 0, 0), (50, 30, 20)))
    t = np.linspace(0, 5, 501)
    least = np.trapezoid(2 * (5 - np.sqrt(25 - (5 - t) ** 2)) * 2 * np.sqrt(radius**2 - (radius - t) ** 2), t)
    most = 2 * (1 - math.pi / 4) * 25 * math.pi * (radius - 5 * (10 - 3 * math.pi) / (12 - 3 * math.pi))
    left = opinion.solid_volume - (50 * 30 * 20 - 30 * math.pi * radius**2 / 2)
    assert least < left < most


def _parabola(*heights):
    """A plate cut along X by a parabola of these poles at y = -30, 0 and 30."""
    poles = TColgp_Array2OfPnt(1, 2, 1, 3)
    for i, x in enumerate((-X, X), 1):
        for j, (y, z) in enumerate(zip((-30, 0, 30), heights, strict=True), 1):
            poles.SetValue(i, j, gp_Pnt(x, y, z))
    face = BRepBuilderAPI_MakeFace(Geom_BezierSurface(poles), 1e-6).Face()
    return _plate(BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, 40)).Shape())


def _valley(r):
    """A parabola of that radius at its foot, 12 deep."""
    high = 30 * 30 / (2 * r)
    return _parabola(high - 12, -high - 12, high - 12)


ABOVE = X * 4 / 3 * 12 * math.sqrt(2 * 12 * 12)
"""Over a parabola of radius 12 in a plate: two thirds of the rectangle 12 deep."""


def test_a_ball_about_as_large_as_the_form():
    opinion = _seen(_valley(12), step(FREE, tool("ballnose_endmill", 23.9), REGION))
    assert opinion.solid_volume == pytest.approx(X * Y * Z - ABOVE, abs=0.1)
    assert opinion.field_volume == pytest.approx(X * Y * Z - ABOVE, abs=opinion.bound)
    assert opinion.bound < 40


def test_what_a_ball_leaves_in_a_valley():
    """It touches a parabola of radius r where its distance from the centre is least and R: sqrt(R^2 - r^2) off the
    middle, with the centre r + (R^2 - r^2) / (2 r) up. Between these places stands what is left."""
    radius, ys = 18.0, np.linspace(-20, 20, 101)
    p, q = (np.stack((np.full_like(ys, x), ys, ys**2 / 24), axis=1) for x in (-30.0, 30.0))
    faces = np.concatenate((np.stack((p[:-1], q[:-1], q[1:]), axis=1), np.stack((p[:-1], q[1:], p[1:]), axis=1)))
    cutter = Tool(id="T", type="ballnose_endmill", DC=2 * radius, APMX=40, stickout=99)
    found = reached(View((0, 1, 2), (1, 1, 1), (0.0, 0.0, 0.0)), 40.0, faces, cutter)
    middle = found.triangles[np.abs(found.triangles[:, :, 0].mean(axis=1)) < 10]  # past the ends it sinks in deeper
    plan = np.cross(middle[:, 1] - middle[:, 0], middle[:, 2] - middle[:, 0])[:, 2] / 2
    half = math.sqrt(radius**2 - 144)
    fine = np.linspace(-half, half, 10_001)
    left = float(np.trapezoid(12 + half**2 / 24 - np.sqrt(radius**2 - fine**2) - fine**2 / 24, fine))
    section = float(plan @ middle[:, :, 2].mean(axis=1)) / float(plan.sum()) * 40
    assert section == pytest.approx(2 * 20**3 / 72 + left, abs=found.unsure / 60)
    assert found.unsure / 60 < left / 2


def _too_deep(scene, indices, low):
    down = -0.2
    return tuple(translate_body(body, (0.0, 0.0, down)) for body in transitions.lifted(scene, indices, low))


def _any_corner(scene, job, index):
    return True


FAULTS = {
    "0.2 too deep": (tool("ballnose_endmill", 23.9), "lifted", _too_deep),
    "a corner a fifth too large": (tool("ballnose_endmill", 28.8), "_follows", _any_corner),
    "a flat bottom that bridges the valley": (_bull(10, 1), "_follows", _any_corner),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_of_the_solid_s_sweep_on_a_free_form_is_told(monkeypatch, name):
    cutter, function, wrong = FAULTS[name]
    monkeypatch.setattr(freeform, function, wrong)
    assert not _opinion(_valley(12), step(FREE, cutter, REGION)).agrees


def test_a_flat_bottom_takes_no_valley_but_a_slope():
    """The slope rises by 13 - 26 u^2 from its level foot at u = 0, y = 60 u - 30, which lies outside the plate."""
    work = step(FREE, _bull(10, 1), REGION)
    assert _seen(_valley(12), work).solid_volume == pytest.approx(X * Y * Z, abs=1e-3)
    first, last = 11 / 60, math.sqrt(0.5)
    taken = X * 60 * (13 * (last - first) - 26 / 3 * (last**3 - first**3))
    assert _seen(_parabola(-13, -13, 13), work).solid_volume == pytest.approx(X * Y * Z - taken, abs=0.1)
