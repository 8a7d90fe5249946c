"""Elementary surfaces that a file writes as free forms are read as what they are: sizes by closed forms, near-misses
kept as they are. Sources of the closed forms: textbook solids of revolution."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from itertools import product

import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.Geom import Geom_BezierSurface
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.gp import gp_Pnt
from OCP.ShapeCustom import ShapeCustom
from OCP.TColgp import TColgp_Array2OfPnt
from OCP.TopoDS import TopoDS_Face

from bench.reencode import as_nurbs, split, turned
from schemas.base import cross, norm
from worker.kernel.boolean import cut
from worker.kernel.elementary import elementary
from worker.kernel.graph import face_graph
from worker.kernel.measure import area, volume
from worker.kernel.primitives import box, cone, cylinder, sphere
from worker.kernel.shape import Body, compound_of, edges, faces
from worker.kernel.stepio import read_part, write_step
from worker.kernel.validity import faults

PLANE = GeomAbs_SurfaceType.GeomAbs_Plane
BLOCK = 40.0 * 30.0 * 20.0


def _block(*less: Body) -> Body:
    return cut(box((0, 0, 0), (40, 30, 20)), list(less))


def _rounded_pin() -> Body:
    """A pin of 20 mm and 30 mm long, its two ends rounded by 3 mm."""
    pin = cylinder((0, 0, 0), (0, 0, 30), 20)
    maker = BRepFilletAPI_MakeFillet(pin.wrapped)
    for edge in edges(pin.wrapped):
        if BRepAdaptor_Curve(edge).GetType() == GeomAbs_CurveType.GeomAbs_Circle:
            maker.Add(3, edge)
    return Body(maker.Shape())


def _rounded_off(radius: float, round_: float) -> float:
    """Volume (mm3) that a round takes off one end of a pin: the square round the arc less the quarter of its disc,
    each about the axis at its own centroid (Pappus)."""
    square, quarter = round_**2, math.pi / 4 * round_**2
    inner = radius - round_
    return 2 * math.pi * (square * (inner + round_ / 2) - quarter * (inner + 4 * round_ / (3 * math.pi)))


SHAPES: dict[str, tuple[Callable[[], Body], float, dict[str, int]]] = {
    "bore": (
        lambda: _block(cylinder((20, 15, -1), (20, 15, 21), 12)),
        BLOCK - math.pi * 36 * 20, {"Plane": 6, "Cylinder": 1},
    ),
    "bore from aside": (
        lambda: _block(cylinder((0, 15, 5), (40, 15, 5), 12)),
        BLOCK - 40 * (math.pi * 36 - (36 * math.acos(5 / 6) - 5 * math.sqrt(11))), {"Plane": 7, "Cylinder": 1},
    ),
    "drill tip": (
        lambda: _block(cone((20, 15, 5), (20, 15, 20), 0, 14)), BLOCK - math.pi * 49 * 15 / 3, {"Plane": 6, "Cone": 1},
    ),
    "countersink": (
        lambda: _block(cone((20, 15, 12), (20, 15, 20), 8, 14)),
        BLOCK - math.pi * 8 / 3 * (16 + 28 + 49), {"Plane": 7, "Cone": 1},
    ),
    "ball": (
        lambda: _block(sphere((20, 15, 20), 14)), BLOCK - 2 / 3 * math.pi * 343, {"Plane": 6, "Sphere": 1},
    ),
    "rounded pin": (
        _rounded_pin, math.pi * 100 * 30 - 2 * _rounded_off(10, 3), {"Plane": 2, "Cylinder": 1, "Torus": 2},
    ),
}  # fmt: skip


def _swept(body: Body) -> Body:
    """Round faces as the surfaces of revolution that turned lines and arcs sweep."""
    return Body(ShapeCustom.ConvertToRevolution_s(body.wrapped))


WRITTEN: dict[str, Callable[[Body], Body]] = {
    "splines": lambda body: as_nurbs(body)[0],
    "splines, turned": lambda body: as_nurbs(turned(body, 3)[0])[0],
    "turned lines": _swept,
}


def _kind(face: TopoDS_Face) -> GeomAbs_SurfaceType:
    return BRepAdaptor_Surface(face, False).GetType()


def _kinds(body: Body) -> dict[str, int]:
    return dict(Counter(str(_kind(face)).rsplit("_", 1)[-1] for face in faces(body)))


@pytest.mark.parametrize("written", WRITTEN)
@pytest.mark.parametrize("shape", SHAPES)
def test_free_forms_are_read_as_the_surfaces_they_are(shape: str, written: str) -> None:
    draw, wanted, kinds = SHAPES[shape]
    before = WRITTEN[written](draw())
    body = read_part(write_step(before)).body
    assert _kinds(before) != kinds
    assert (_kinds(body), faults(body)) == (kinds, ())
    assert volume(body) == pytest.approx(wanted, rel=1e-8)


@pytest.mark.parametrize("shape", SHAPES)
def test_faces_keep_their_order_and_the_side_that_they_look_to(shape: str) -> None:
    """A bore stays hollow, a floor looks up: what the drawn surfaces are read as, face by face."""
    drawn = SHAPES[shape][0]()
    before, after = face_graph(drawn), face_graph(elementary(as_nurbs(drawn)[0]))
    for old, new in zip(before.faces, after.faces, strict=True):
        assert (new.surface.kind, new.surface.hollow) == (old.surface.kind, old.surface.hollow)
        if old.surface.kind == "plane":
            assert new.surface.axis == pytest.approx(old.surface.axis, abs=1e-9)


def test_pieces_of_a_face_lie_on_one_surface() -> None:
    """Each piece of a wall fitted by itself: axes some 1e-8 apart, at which the kernel's booleans broke off."""
    pieces = split(turned(SHAPES["bore"][0](), 5)[0], 5, cuts=3)[0]
    body = read_part(write_step(as_nurbs(pieces)[0])).body
    walls = [BRepAdaptor_Surface(f, False).Cylinder() for f in faces(body) if _kind(f) != PLANE]
    axes = [wall.Axis().Direction().Coord() for wall in walls]
    assert len(walls) >= 3
    assert max(norm(cross(axes[0], axis)) for axis in axes) <= 1e-15
    assert len({wall.Radius() for wall in walls}) == 1


def test_edges_become_lines_and_conics() -> None:
    """A bore cut through slantwise has ellipses for rims; on a plane and a cylinder no other curve is left."""
    pieces = split(SHAPES["bore"][0](), 5, cuts=3)[0]
    made = elementary(as_nurbs(pieces)[0])
    kinds = Counter(str(BRepAdaptor_Curve(edge).GetType()).rsplit("_", 1)[-1] for edge in edges(made.wrapped))
    assert set(kinds) == {"Line", "Circle", "Ellipse"}
    assert sum(kinds.values()) == len(edges(pieces.wrapped))


def test_a_body_without_free_forms_is_the_same_body() -> None:
    plain = box((0, 0, 0), (40, 30, 20))
    assert elementary(plain) is plain


@pytest.mark.parametrize(("bulge", "flat"), [(5e-8, True), (1e-6, False), (1e-5, False)])
def test_a_face_that_bulges_is_no_plane(bulge: float, flat: bool) -> None:
    """The pole in the middle of nine, moved by so much (mm) off their plane: the face bulges by a quarter of it."""
    rows = TColgp_Array2OfPnt(1, 3, 1, 3)
    for i, j in product(range(3), repeat=2):
        rows.SetValue(i + 1, j + 1, gp_Pnt(20 * i, 15 * j, bulge if i == j == 1 else 0.0))
    face = BRepBuilderAPI_MakeFace(Geom_BezierSurface(rows), 1e-7).Face()
    found = _kind(faces(elementary(Body(compound_of([face]))))[0])
    assert (found == PLANE) is flat
    assert area(face) == pytest.approx(1200, rel=1e-9)
