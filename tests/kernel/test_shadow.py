"""Shadows of bodies against the kernel's own sections and closed forms, from straight and skew directions."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_BuilderAlgo, BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Pnt, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Shape

from schemas.base import Frame, Vec3
from worker.kernel.outline import Curve, projected
from worker.kernel.planar import disc, polygon, rectangle
from worker.kernel.primitives import box, cone, cylinder, sphere
from worker.kernel.relief import relief_of
from worker.kernel.shadow import Skyline, concave_radius, face_facts, flank_of
from worker.kernel.shape import Body, edges, list_of, pick, sub_shapes
from worker.kernel.sweep import lift_faces, prism
from worker.kernel.view import view_of

PI = math.pi
FRAMES = [Frame(), Frame(axis=(0, -1, 0)), Frame(axis=(1, 2, 3), location=(5, 6, 7), ref_direction=(0, 1, 0))]


def less(a: Body, *others: Body) -> Body:
    shape = a.wrapped
    for other in others:
        shape = BRepAlgoAPI_Cut(shape, other.wrapped).Shape()
    return Body(shape)


def housing() -> Body:
    return less(
        box((0, 0, 0), (100, 60, 30)),
        box((20, 10, 15), (80, 50, 40)),
        cylinder((50, -1, 7), (50, 61, 7), 8),
        cylinder((10, 10, -1), (10, 10, 40), 6),
        cone((90, 30, 30), (90, 30, 20), 14, 4),
    )


def thrown(body: Body, frame: Frame, z: float) -> float:
    """Area of the shadow above z by other means: the metal above z swept along the view, and that cut across."""
    above = BRepAlgoAPI_Common(body.wrapped, prism(rectangle(-300, -300, 300, 300), frame, z, 300).wrapped).Shape()
    return sum(_slabs(above, frame))


def _slabs(shape: TopoDS_Shape, frame: Frame) -> list[float]:
    """The union of all upright prisms on the faces, met with a thin slab far below: volume over thickness."""
    down = gp_Vec(*frame.z).Multiplied(-1000.0)
    thin = prism(rectangle(-400, -400, 400, 400), frame, -500, -499).wrapped
    joined: TopoDS_Shape | None = None
    explorer = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while explorer.More():
        column = BRepPrimAPI_MakePrism(explorer.Current(), down).Shape()
        explorer.Next()
        size = mass(column)
        if abs(size) < 1e-6:
            continue  # an upright face has no column
        part = BRepAlgoAPI_Common(column if size > 0 else column.Reversed(), thin).Shape()
        joined = part if joined is None else BRepAlgoAPI_Fuse(joined, part).Shape()
    return [] if joined is None else [abs(mass(joined))]


def mass(shape: TopoDS_Shape) -> float:
    total = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, total)
    return float(total.Mass())


def test_shadow_of_a_housing_from_above() -> None:
    sky = Skyline(housing(), Frame())
    top = 6000 - 60 * 40 - 9 * PI - 4 * PI  # the cone's flank lies above its ø4 floor
    assert sky.above(20).area == pytest.approx(top, rel=1e-9)
    # below the pocket's floor only the through hole and the lower mouth of the cone (ø4) let light through …
    assert sky.above(10).area == pytest.approx(6000 - 9 * PI, rel=1e-9)
    assert sky.above(31).area == 0


@pytest.mark.parametrize("z", [29, 22, 16, 5])
def test_a_cone_is_cut_at_the_height_asked_for(z: float) -> None:
    # the countersink (ø14 at 30, ø4 at 20) is ø14 - (30 - z) wide at z: what of it lies above z covers the ring outside
    sky = Skyline(housing(), Frame())
    lower = max(14 - (30 - z), 4.0)
    floor = PI / 4 * lower**2 if z >= 20 else 0.0
    pocket = 60 * 40 if z >= 15 else 0.0
    assert sky.above(z).area == pytest.approx(6000 - pocket - 9 * PI - floor, rel=1e-6)


@pytest.mark.parametrize("frame", FRAMES, ids=["top", "side", "skew"])
@pytest.mark.parametrize("cut", [0.0, 3.0])
def test_what_of_an_upright_cone_lies_above_a_height(frame: Frame, cut: float) -> None:
    # a stump of ø20 at 0 and ø8 at 6: at z it is 20 - 2 z wide; a plane beside the axis leaves a segment of a circle
    down, up, top = (frame.to_world((0, 0, z)) for z in (0, 6, 9))
    stump = Body(BRepAlgoAPI_Fuse(cone(down, up, 20, 8).wrapped, cylinder(up, top, 8).wrapped).Shape())
    body = less(stump, prism(rectangle(-30, -30, -cut, 30), frame, -1, 10)) if cut else stump
    for z in (0.25, 2.0, 5.75):
        assert Skyline(body, frame).above(z).area == pytest.approx(_segment(10 - z, cut), rel=1e-9)
    # the same cone as a hole is open to the sky where the stump was, from its narrow end up
    block = prism(rectangle(-15, -15, 15, 15), frame, -6, 0)
    hole = less(block, cone(frame.to_world((0, 0, 0)), frame.to_world((0, 0, -6)), 20, 8))
    for z in (-0.25, -2.0, -5.75):
        assert Skyline(hole, frame).above(z).area == pytest.approx(900 - PI * (10 + z) ** 2, rel=1e-9)


def _segment(radius: float, cut: float) -> float:
    """Area of a disc on the far side of a chord (or of the whole disc, for none)."""
    if not 0 < cut < radius:
        return PI * radius**2
    lost = radius**2 * math.acos(cut / radius) - cut * math.sqrt(radius**2 - cut**2)
    return PI * radius**2 - lost


@pytest.mark.parametrize("frame", FRAMES[:2], ids=["top", "side"])
@pytest.mark.parametrize("depth", [0.5, 0.75])
def test_shadow_is_the_sweep_of_what_lies_above(frame: Frame, depth: float) -> None:
    body = less(box((0, 0, 0), (40, 30, 20)), cylinder((20, -1, 12), (20, 31, 12), 8), box((5, 5, 10), (15, 25, 30)))
    shown = Skyline(body, frame).shown
    low, high = min(s.low for s in shown), max(s.high for s in shown)
    z = low + depth * (high - low)
    assert Skyline(body, frame).above(z).area == pytest.approx(thrown(body, frame, z), rel=1e-6)


def test_a_ball_and_a_bar_seen_from_anywhere() -> None:
    for frame in FRAMES:
        sky = Skyline(sphere((1, 2, 3), 20), frame)
        assert sky.above(-500).area == pytest.approx(100 * PI, rel=1e-6)
    bar = Skyline(cylinder((0, 0, 0), (100, 0, 0), 40), Frame())
    assert bar.above(-21).area == pytest.approx(4000, rel=1e-9)
    # the part of a bar above a height h is 2 sqrt(r^2 - h^2) wide
    assert bar.above(12).area == pytest.approx(100 * 2 * math.sqrt(400 - 144), rel=1e-9)


@pytest.mark.parametrize("tilt", [0.0, 10.0, 35.0, 50.0])
@pytest.mark.parametrize("end", [1.0, -1.0])
def test_a_cone_seen_from_its_side_is_an_ellipse_and_its_tangents_from_the_tip(tilt: float, end: float) -> None:
    """Closed form: with D = distance of the tip in half-axes of the base's ellipse, a b (sqrt(D^2-1) + pi - acos(1/D)).

    Arcs fitted to the ellipse stay within 1e-5 mm of it: times its border, 3e-4 mm2.
    """
    radius, height, t = 6.0, 11.0, math.radians(tilt)
    level, rise = math.cos(t), end * math.sin(t)
    body = cone((0, 0, 0), (height * level, 0, height * rise), 2 * radius, 0)
    short = radius * abs(math.sin(t))
    if short == 0.0:
        expected = radius * height
    else:
        d = height * level / short
        expected = radius * short * (math.sqrt(d**2 - 1) + math.pi - math.acos(1 / d))
    assert Skyline(body, Frame()).above(-50).area == pytest.approx(expected, abs=3e-4)


def test_a_bore_across_a_round_wall_ends_on_that_wall_s_own_circle() -> None:
    """Closed form: a strip of the disc of radius 20 between y = 1 and 9. Fitted arcs would run to and fro about it."""
    body = less(cylinder((0, 0, 0), (0, 0, 20), 40), cylinder((-30, 5, 10), (30, 5, 10), 8))
    found = max((Skyline(body, Frame()).region(i) for i in range(4)), key=lambda r: r.area if r.area < 400 else 0.0)
    primitive = [y * math.sqrt(400 - y * y) + 400 * math.asin(y / 20) for y in (9, 1)]
    assert found.area == pytest.approx(primitive[0] - primitive[1], rel=1e-6)
    assert {e.radius for e in found.edges if e.centre} == {20.0}


@pytest.mark.parametrize(("off", "arcs"), [(0.004, 1), (0.002, 1), (0.001, 0)])
def test_a_curve_beside_a_round_wall_lies_on_it_within_what_the_file_says(off: float, arcs: int) -> None:
    """A curve of a quarter turn that runs up to 0.003 off a wall of radius 8, and ends as far beside it: once and a
    half as far as one file says, which took its tolerance at other places."""

    def at(t: float) -> tuple[float, float, float]:
        return ((8 + 0.003 * math.cos(9 * t)) * math.cos(t), (8 + 0.003 * math.cos(9 * t)) * math.sin(t), t)

    found = projected(Curve("other", at(0), at(PI / 2), last=PI / 2, at=at, off=off), view_of(Frame()), [((0, 0), 8.0)])
    assert sum(e.centre is not None and e.radius == 8.0 for e in found) == arcs
    assert (*found[0].a, *found[-1].b) == pytest.approx((*at(0)[:2], *at(PI / 2)[:2]))
    assert all(before.b == after.a for before, after in pairwise(found))


def test_what_stands_on_a_cone_along_its_own_side_casts_the_shadow_of_the_cone() -> None:
    """One side of a quarter of a cone, leaning 45 degrees, runs along the sweep: the prism has a face with no area.

    Closed form: dA = sqrt(2) r dr dt, its normal (cos t, sin t, 1) / sqrt(2) on (1, 0, 1) / sqrt(2) is (1 + cos t) / 2;
    t from 90 to 180 degrees, r from 3 to 5.
    """
    frame = Frame(axis=(1, 0, 1))
    whole, corner = cone((0, 0, 0), (0, 0, 2), 10, 6), box((-9, 0, 0), (0, 9, 2))
    quarter = Body(BRepAlgoAPI_Common(whole.wrapped, corner.wrapped).Shape())
    flank = pick(quarter, [n for n, facts in enumerate(face_facts(quarter)) if facts.kind == "cone"])
    above = Skyline(lift_faces(flank, frame.z, 20.0), frame).above(-30.0)
    assert above.area == pytest.approx(math.sqrt(2) * 8 * (PI / 2 - 1) / 2, rel=1e-3)


def test_the_shadow_only_grows_downwards() -> None:
    for frame in FRAMES:
        sky = Skyline(housing(), frame)
        low, high = min(s.low for s in sky.shown), max(s.high for s in sky.shown)
        areas = [sky.above(high - (high - low) * i / 12).area for i in range(13)]
        assert all(b >= a - 1e-6 for a, b in pairwise(areas))


def test_heights_asked_for_in_any_order_give_one_answer() -> None:
    zs = [0, 15, 30, 20, 7, -1]
    downwards = Skyline(housing(), Frame())
    expected = {z: downwards.above(z).area for z in sorted(zs, reverse=True)}
    upwards = Skyline(housing(), Frame())
    assert {z: upwards.above(z).area for z in sorted(zs)} == pytest.approx(expected)


def test_hollow_radii_and_flanks() -> None:
    body = less(
        box((-20, -20, -20), (20, 20, 0)), cylinder((-30, 0, 0), (30, 0, 0), 10), cone((0, 15, 0), (0, 15, -3), 6, 0)
    )
    found = [concave_radius(body, s.index) for s in Skyline(body, Frame()).shown]
    assert [r for r in found if r is not None and r == pytest.approx(5, rel=1e-6)]
    flanks = {round(f, 6) for s in Skyline(body, Frame()).shown if (f := flank_of(body, s.index, Frame())) is not None}
    assert 45.0 in flanks


def test_prisms_hold_their_volume_in_every_frame() -> None:
    for frame in FRAMES:
        body = prism(disc((3, 4), 5), frame, -2, 8)
        assert mass(body.wrapped) == pytest.approx(250 * PI, rel=1e-12)


def test_a_bore_that_a_step_cuts_open_bars_what_lies_under_it() -> None:
    """Its deep half is whole, so its face goes all round; from above one still sees into it over the step."""
    block = less(
        box((0, 0, 0), (40, 30, 20)), box((-1, -1, 14), (6.5, 31, 21)), cylinder((-1, 15, 13), (12, 15, 13), 10)
    )
    assert Skyline(block, Frame()).above(0).area == pytest.approx(40 * 30, abs=1e-6)


def test_what_a_border_cuts_off_a_ball_is_none_of_its_extent():
    """A ball's cap of which a corner is cut off: of its parameters' rectangle more lies beside it than on it."""
    cap = BRepAlgoAPI_Common(sphere((0, 0, 0), 20).wrapped, box((-20, -20, -20), (-8, 20, 20)).wrapped).Shape()
    body = Body(BRepAlgoAPI_Cut(cap, box((-20, -20, -20), (0, 20, 0)).wrapped).Shape())
    (round_,) = [i for i, facts in enumerate(face_facts(body)) if facts.kind == "sphere"]
    shown = Skyline(body, Frame()).shown[round_]
    assert (shown.low, shown.high) == pytest.approx((0, 6), abs=1e-6)
    assert shown.bounds == pytest.approx((-10, -6, -8, 6), abs=1e-6)


def scored(body: Body, a: Vec3, b: Vec3) -> Body:
    """The body with an edge left lying within a face, as booleans leave some: metal is on both sides of it."""
    line = BRepBuilderAPI_MakeEdge(gp_Pnt(*a), gp_Pnt(*b)).Edge()
    joined = BRepAlgoAPI_BuilderAlgo()
    joined.SetArguments(list_of([body.wrapped, line]))
    joined.Build()
    (solid,) = sub_shapes(joined.Shape(), TopAbs_ShapeEnum.TopAbs_SOLID)
    return Body(solid)


def test_an_edge_that_lies_within_a_face_is_none_of_its_border() -> None:
    """The shadow is the rectangle, the roof's part above half its height half of it (a roof of 45 degrees)."""
    block = scored(box((0, 0, 0), (40, 30, 20)), (5, 12, 20), (30, 18, 20))
    assert len(edges(block.wrapped)) == 13
    assert Skyline(block, Frame()).above(10).area == pytest.approx(1200, abs=1e-9)
    roof = scored(wedge(), (5, 12, 12), (30, 18, 18))
    assert len(edges(roof.wrapped)) == 10
    assert Skyline(roof, Frame()).above(0).area == pytest.approx(1200, abs=1e-9)
    assert Skyline(roof, Frame()).above(15).area == pytest.approx(600, abs=1e-9)
    assert len(relief_of(roof, Frame()).pieces) == len(relief_of(wedge(), Frame()).pieces)


def wedge() -> Body:
    """40 wide, 30 deep, its top rising from 0 to 30."""
    return prism(polygon([(0, 0), (30, 0), (30, 30)]), Frame(axis=(1, 0, 0), ref_direction=(0, 1, 0)), 0, 40)
