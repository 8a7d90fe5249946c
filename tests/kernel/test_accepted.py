"""The validity check in parts against the kernel's own check of the whole, on sound faces and on spoilt ones."""

import pytest
from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepLib import BRepLib
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Pnt, gp_Trsf
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS, TopoDS_Iterator

from worker.kernel.accepted import MANY, _accepted_in_parts, _has_many, kernel_accepts
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body, faces

ROWS = 8
SIDE = 10.0


def ring(x, y, radius):
    circle = gp_Circ(gp_Ax2(gp_Pnt(x, y, 0), gp_Dir(0, 0, 1)), radius)
    return BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(circle).Edge()).Wire()


def sieve(*more, wrong_way=()):
    """A round sheet with ROWS x ROWS holes, further borders as given, and some more that run the wrong way."""
    middle = SIDE * (ROWS - 1) / 2
    outer = ring(middle, middle, SIDE * ROWS)
    face = BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1)), outer, True).Face()
    holes = [ring(SIDE * i, SIDE * j, 3.0) for i in range(ROWS) for j in range(ROWS)]
    for hole in (*holes, *more):
        BRep_Builder().Add(face, hole.Reversed())
    for border in wrong_way:
        BRep_Builder().Add(face, border)
    BRepLib.BuildCurves3d_s(face)
    return face


FAR = SIDE * ROWS * 3
SHEETS = {
    "sound": (lambda: sieve(), True),
    "a hole close beside another": (lambda: sieve(ring(SIDE / 2, SIDE / 2, 4.0)), True),
    "two holes cross": (lambda: sieve(ring(4, 0, 3.0)), False),
    "a hole within a hole": (lambda: sieve(ring(0, 0, 1.0)), False),
    "a hole round a hole": (lambda: sieve(ring(0, 0, 4.0)), False),
    "a hole round four holes": (lambda: sieve(ring(SIDE / 2, SIDE / 2, 12.5)), False),
    "a hole beside the sheet": (lambda: sieve(ring(FAR, 0, 3.0)), False),
    "a hole across the rim": (lambda: sieve(ring(SIDE * (ROWS - 1) / 2 + SIDE * ROWS, SIDE * 3.5, 3.0)), False),
    "a border the wrong way round": (lambda: sieve(wrong_way=[ring(SIDE / 2, SIDE / 2, 2.0)]), False),
    "one border twice": (lambda: sieve(*[ring(SIDE / 2, SIDE / 2, 2.0)] * 2), False),
    "two equal borders": (lambda: sieve(ring(SIDE, SIDE, 3.0)), False),
    "two sheets in one": (lambda: sieve(wrong_way=[ring(FAR * 2, 0, SIDE * ROWS)]), False),
}


@pytest.mark.parametrize("name", SHEETS)
@pytest.mark.parametrize("turned", [False, True], ids=["as drawn", "turned over and moved"])
def test_a_face_with_many_borders_is_judged_as_the_kernel_judges_it_whole(name, turned):
    make, sound = SHEETS[name]
    face = make()
    if turned:
        motion = gp_Trsf()
        motion.SetRotation(gp_Ax1(gp_Pnt(3, 4, 5), gp_Dir(1, 2, 3)), 1.0)
        face = TopoDS.Face_s(face.Reversed().Moved(TopLoc_Location(motion)))
    assert face.NbChildren() > MANY and _has_many(face)
    assert _accepted_in_parts(face, [face]) == bool(BRepCheck_Analyzer(face, True).IsValid()) == sound
    assert kernel_accepts(face) == sound


def plate():
    holes = [cylinder((SIDE * i, SIDE * j, -1), (SIDE * i, SIDE * j, 9), 4) for i in range(ROWS) for j in range(ROWS)]
    bores = [cylinder((SIDE * i, SIDE * i, 4), (SIDE * i, SIDE * i, 9), 7) for i in range(ROWS)]
    return cut(box((-SIDE, -SIDE, 0), (SIDE * ROWS, SIDE * ROWS, 8)), holes + bores)


def test_a_drilled_plate_is_accepted_in_parts_and_without_a_face_it_is_not():
    body = plate()
    large = [face for face in faces(body) if _has_many(face)]
    assert len(large) == 2 and _accepted_in_parts(body.wrapped, large)
    open_shell = body.wrapped.EmptyCopied()
    shell = next(iter(_children(body.wrapped)))
    holed = shell.EmptyCopied()
    holed.Closed(True)
    for face in faces(body)[1:]:
        BRep_Builder().Add(holed, face)
    BRep_Builder().Add(open_shell, holed)
    assert not BRepCheck_Analyzer(open_shell, True).IsValid()
    rest = [face for face in faces(Body(open_shell)) if _has_many(face)]
    assert not _accepted_in_parts(open_shell, rest) and not kernel_accepts(open_shell)


def _children(shape):
    steps = TopoDS_Iterator(shape)
    while steps.More():
        yield steps.Value()
        steps.Next()
