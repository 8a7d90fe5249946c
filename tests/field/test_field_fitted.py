"""Round corners in holes and on filleted floors, edge rounds, other flanks, open rings, cuts past the walls: swept by
the field itself, against closed forms, and faults of the solid's sweep that it tells.

What a corner r leaves between floor and wall has the section (1 - pi/4) r^2, its centroid (10 - 3 pi) / (12 - 3 pi) r
off the wall (a square less a quarter circle): once along straight walls, turned about corners (Pappus). A fillet leaves
what a corner of its own radius leaves, to every corner that it is no tighter than.
"""

import math
from dataclasses import replace
from functools import cache

import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.GeomAPI import GeomAPI_PointsToBSplineSurface
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TColgp import TColgp_Array2OfPnt
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS

from examples.shapes import ball, box, common, cut, cylinder, fuse, polygon, prism, rounded_block, volume
from tests.support.own_sweeps import swept_once
from tests.support.trial import inputs, plan, raw_box, setup, step, tool
from tests.support.undercut import FINISH
from worker.field import second_opinion
from worker.kernel.shape import sub_shapes, translate_body
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage import make

X, Y, Z = 48, 38, 14
WHOLE = X * Y * Z
DEEP = 9
LONG, WIDE, CORNER = 40, 30, 5


def _plate(*hollows):
    plate = box((-X / 2, -Y / 2, -Z), (X / 2, Y / 2, 0))
    return cut(plate, *hollows) if hollows else plate


def _filleted(shape, radius, held):
    """The shape with a fillet along the edges of which all points are held by a test."""
    maker = BRepFilletAPI_MakeFillet(shape)
    for edge in dict.fromkeys(TopoDS.Edge_s(e) for e in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_EDGE)):
        curve = BRepAdaptor_Curve(edge)
        low, high = curve.FirstParameter(), curve.LastParameter()
        points = [curve.Value(low + (high - low) * k / 4) for k in range(5)]
        if all(held(p.X(), p.Y(), p.Z()) for p in points):
            maker.Add(radius, edge)
    return maker.Shape()


def _floor(x, y, z):
    return abs(z + DEEP) < 1e-6


def _pocket(*standing):
    room = rounded_block((-LONG / 2, -WIDE / 2, -DEEP), (LONG / 2, WIDE / 2, 1), CORNER)
    return _plate(cut(room, *standing) if standing else room)


def _wave(x, y):
    return -5 + 1.5 * math.sin(x / 6) * math.cos(y / 8)


@cache
def _above_a_wave():
    """What stands on a free form over all of the plate."""
    at = [-32 + 4 * k for k in range(17)]
    points = TColgp_Array2OfPnt(1, len(at), 1, len(at))
    for i, x in enumerate(at, 1):
        for j, y in enumerate(at, 1):
            points.SetValue(i, j, gp_Pnt(x, y, _wave(x, y)))
    face = BRepBuilderAPI_MakeFace(GeomAPI_PointsToBSplineSurface(points, 3, 8).Surface(), 1e-6).Face()
    return BRepPrimAPI_MakePrism(face, gp_Vec(0, 0, 30)).Shape()


def _slot():
    return _plate(box((-X, -8, -DEEP), (X, 8, 1)))


def _along_walls(x, y, z):
    return _floor(x, y, z) and abs(abs(y) - 8) < 1e-6


def _section(r):
    return (1 - math.pi / 4) * r**2


def _off(r):
    return r * (10 - 3 * math.pi) / (12 - 3 * math.pi)


def _cleared(r, corner=CORNER, past=0.0):
    """A rectangle with round corners, less what a corner r leaves round its floor; grown by ``past``."""
    a, b, corner = LONG + 2 * past, WIDE + 2 * past, corner + past
    left = _section(r) * (2 * (a + b - 4 * corner) + 2 * math.pi * (corner - _off(r)))
    return (a * b - (4 - math.pi) * corner**2) * DEEP - left


def _bored(radius, r):
    return math.pi * radius**2 * DEEP - _section(r) * 2 * math.pi * (radius - _off(r))


def _bull(diameter, corner):
    return tool("bullnose_endmill", diameter, RE=corner)


def _hole(depth=DEEP):
    return _plate(cylinder((0, 0, -depth), (0, 0, 1), 24))


POCKET, HOLE, SLOT = {"class": "closed_pocket"}, {"class": "round_hole"}, {"class": "slot"}
MILL = tool("chamfer_mill", 10, SIG=60, tip_diameter=2)


def _round():
    return _plate(cut(box((-X, 16, -3), (X, 30, 3)), cylinder((-X, 16, -3), (X, 16, -3), 6)))


def _edge():
    return _plate(prism(polygon([(-X, 18, 0), (-X, 20, 1), (-X, 20, -2), (-X, 19, -1)]), (2 * X, 0, 0)))


def _round_end():
    return _plate(fuse(box((-X, -5, -Z - 1), (10, 5, 1)), cylinder((10, 0, -Z - 1), (10, 0, 1), 10)))


CASES = {
    "hole": (_hole, _bull(10, 2), HOLE, {}, _bored(12, 2)),
    "hole of the cutter's size": (_hole, _bull(24, 3), HOLE, {}, _bored(12, 3)),
    "hole with a fillet": (lambda: _filleted(_hole(), 2, _floor), _bull(10, 2), HOLE, {}, _bored(12, 2)),
    "hole with a tighter fillet": (lambda: _filleted(_hole(), 2, _floor), _bull(10, 3), HOLE, {}, _bored(12, 3)),
    "spherical hole": (
        lambda: _plate(cylinder((0, 0, -4), (0, 0, 1), 16), ball((0, 0, -4), 8)),
        tool("ballnose_endmill", 10),
        HOLE,
        {},
        math.pi * 64 * 4 + 2 / 3 * math.pi * 512,
    ),
    "fillet": (lambda: _filleted(_pocket(), 2, _floor), _bull(8, 2), POCKET, {}, _cleared(2)),
    "wider fillet": (lambda: _filleted(_pocket(), 3, _floor), _bull(8, 2), POCKET, {}, _cleared(3)),
    "tighter fillet": (lambda: _filleted(_pocket(), 2, _floor), _bull(8, 3), POCKET, {}, _cleared(3)),
    "ball in a slot with fillets": (
        lambda: _filleted(_slot(), 3, _along_walls),
        tool("ballnose_endmill", 8),
        SLOT,
        {},
        X * (16 * DEEP - 2 * _section(4)),
    ),
    "round groove": (
        lambda: _plate(cylinder((-X, 0, 2), (X, 0, 2), 12)),
        tool("ballnose_endmill", 8),
        {"at": [0, 0, -4]},
        {},
        X * (36 * math.acos(2 / 6) - 2 * math.sqrt(32)),
    ),
    "edge round": (_round, tool("ballnose_endmill", 8), {"class": "edge_round"}, {}, _section(3) * X),
    "flatter flank": (_edge, MILL | {"SIG": 120}, {"class": "chamfer"}, {}, X / math.sqrt(3) / 2),
    "steeper flank": (_edge, MILL, {"class": "chamfer"}, {}, X / math.sqrt(3) / 2),
    "pocket cut past its walls": (_pocket, tool("endmill", 8), POCKET, {"allowance_side": -0.1}, _cleared(0, past=0.1)),
    "island cut past its walls": (
        lambda: _pocket(box((-6, -4, -Z), (6, 4, 2))),
        tool("endmill", 8),
        POCKET,
        {"allowance_side": -0.1},
        _cleared(0, past=0.1) - 11.8 * 7.8 * DEEP,
    ),
    "filleted hole cut past its walls": (
        lambda: _filleted(_hole(), 2, _floor),
        tool("endmill", 8),
        HOLE,
        {"allowance_side": -0.1},
        math.pi * (10.1**2 * 2 + 12.1**2 * 7),
    ),
    "groove as round as the ball, too narrow above": (
        lambda: _plate(cylinder((-X, 0, 1), (X, 0, 1), 8)),
        tool("ballnose_endmill", 8),
        {"at": [0, 0, -3]},
        {},
        X * (16 * math.acos(1 / 4) - math.sqrt(15)),
    ),
    "free form": (
        lambda: _plate(_above_a_wave()),
        tool("ballnose_endmill", 8),
        {"at": [0, 0, _wave(0, 0)]},
        {},
        lambda: volume(common(_plate(), _above_a_wave())),
    ),
    "open ring": (_round_end, tool("endmill", 10), SLOT, {"overcut_length": 1}, (34 * 10 + math.pi * 12.5) * Z),
}
FAULTS = {
    "hole": ({"depth": 0.02}, {"depth": -0.02}, {"less": 1}),
    "hole with a tighter fillet": ({"depth": 0.02}, {"corner": 1.03}, {"corner": 0.97}),
    "hole of the cutter's size": ({"corner": 1.03},),
    "tighter fillet": ({"depth": 0.02}, {"corner": 1.03}, {"corner": 0.97}, {"less": 1}),
    "wider fillet": ({"depth": -0.02}, {"less": 1}),
    "edge round": ({"depth": 0.02}, {"depth": -0.02}, {"less": 1}),
    "flatter flank": ({"depth": 0.02}, {"less": 1}),
    "pocket cut past its walls": ({"side": 0.01}, {"depth": 0.02}),
    "free form": ({"depth": 0.02},),
    "open ring": ({"side": 0.01}, {"less": 1}),
}


@cache
def _read(name):
    shape, cutter, feature, keys, _ = CASES[name]
    operation = "chamfering" if cutter["type"] == "chamfer_mill" else FINISH
    operation = "freeform_operation" if feature.get("class") == "edge_round" else operation
    raw = raw_box((-X / 2, -Y / 2, -Z), (X / 2, Y / 2, 0))
    found = inputs(shape(), plan(raw, setup([step(operation, cutter, feature, **keys)], location=[0, 0, 0])))
    return found, resolve(found.plan, found.part.features, on_feature_of(found.part))


def _seen(monkeypatch, name):
    swept_once(monkeypatch, name)
    found, resolved = _read(name)
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    return opinion


@pytest.mark.parametrize("name", CASES)
def test_closed_forms(monkeypatch, name):
    opinion, exact = _seen(monkeypatch, name), CASES[name][-1]
    assert opinion.borrowed == ()
    assert opinion.field_volume == pytest.approx(WHOLE - (exact() if callable(exact) else exact), abs=opinion.bound)
    assert opinion.agrees and opinion.relative_bound < 1e-3


def _wrong(right, depth=0.0, corner=1.0, side=0.0, less=0):
    """The solid's sweep with a fault: lower, rounder, further off the walls, or without so many of its bodies."""

    def sweep(scene, job):
        changed = {"RE": corner * job.tool.RE} if corner != 1.0 else {}
        allowance = {"allowance_side": job.step.allowance_side + side}
        job = replace(job, tool=job.tool.model_copy(update=changed), step=job.step.model_copy(update=allowance))
        found = right(scene, job)
        return replace(found, bodies=tuple(translate_body(b, (0, 0, -depth)) for b in found.bodies[less:]))

    return sweep


@pytest.mark.parametrize(("name", "fault"), [(name, fault) for name, faults in FAULTS.items() for fault in faults])
def test_a_fault_of_the_solid_s_sweep_is_told(monkeypatch, name, fault):
    monkeypatch.setattr(make, "sweep_step", _wrong(make.sweep_step, **fault))
    assert not _seen(monkeypatch, name).agrees
