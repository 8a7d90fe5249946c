"""Which side of a solid with many faces a point lies on, by the few faces that a line through it can meet.

The kernel's own answer crosses its line with every face, which takes milliseconds where there are a thousand.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepClass3d import BRepClass3d_SolidClassifier
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Ax3, gp_Dir, gp_Lin, gp_Pnt
from OCP.IntCurvesFace import IntCurvesFace_Intersector
from OCP.IntCurveSurface import IntCurveSurface_TransitionOnCurve
from OCP.TopAbs import TopAbs_Orientation, TopAbs_State
from OCP.TopoDS import TopoDS, TopoDS_Face, TopoDS_Iterator, TopoDS_Shape

from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.shape import Body, faces, of_xyz

MANY = 40
"""Faces from which on a solid is worth its boxes: the kernel needs as long for a point there, and fifty times as long
in the skin that a finishing cut takes."""
LOOPS = 100
"""Outlines from which on a plane face is asked by those alone that are near."""
_WAYS = ((0.231, 0.127, 0.965), (0.943, 0.287, 0.171), (-0.311, 0.902, 0.299))
"""Directions of lines, askew to whatever a part is likely to have: upright first."""
_IN, _OUT = IntCurveSurface_TransitionOnCurve.IntCurveSurface_In, IntCurveSurface_TransitionOnCurve.IntCurveSurface_Out
_FAR = 1e6
"""Half the length of a line (mm)."""
Crossing = tuple[float, IntCurveSurface_TransitionOnCurve]
"""Where on the line (mm from the point), and whether the line goes into the metal there or out of it."""


def rough_box(shape: TopoDS_Shape) -> Bnd_Box:
    """A box that holds the shape, not always the smallest: ten times quicker, and it only spares questions."""
    found = Bnd_Box()
    BRepBndLib.Add_s(shape, found, False)
    return found


class Sides:
    """Which side of one solid points lie on, asked again and again: loading a solid takes longer than a point.

    By rays where the solid has many faces, by the kernel's own answer where they leave a doubt and for all others.
    """

    def __init__(self, solid: Body) -> None:
        self._solid = solid
        self._rays = Rays(solid) if len(faces(solid)) >= MANY else None
        self._loaded: BRepClass3d_SolidClassifier | None = None

    def state(self, point: gp_Pnt, tolerance: float = COINCIDENT) -> TopAbs_State:
        """Strictly inside, strictly outside, or on the surface within a tolerance (mm). Raises KernelError."""
        found = self._rays.state(point, tolerance) if self._rays is not None and tolerance <= COINCIDENT else None
        if found is not None:
            return found
        with kernel_step("side of a point"):
            if self._loaded is None:
                self._loaded = BRepClass3d_SolidClassifier(self._solid.wrapped)
            self._loaded.Perform(point, tolerance)
            return self._loaded.State()


class Rays:
    """Answers for one solid, where they are beyond doubt."""

    def __init__(self, solid: Body) -> None:
        self._faces = faces(solid)
        boxes = [rough_box(face) for face in self._faces]
        self._low = np.array([of_xyz(box.CornerMin()) for box in boxes]) - LENGTH
        self._high = np.array([of_xyz(box.CornerMax()) for box in boxes]) + LENGTH
        self._faces_of: dict[int, _Outlines] = {}

    def state(self, point: gp_Pnt, tolerance: float = COINCIDENT) -> TopAbs_State | None:
        """Strictly inside, strictly outside, on a face within a tolerance (mm); None where no line makes it sure.

        A line that leaves through a face right at the point says that it lies on it: there the kernel's own answer may
        be inside, six nanometres off a face of nine square millimetres.
        """
        for way in _WAYS:
            crossings = self._crossings(point, gp_Dir(*way))
            answer = None if crossings is None else _answer(crossings, tolerance)
            if answer is not None:
                return answer
        return None

    def _near(self, number: int, line: gp_Lin) -> IntCurvesFace_Intersector | None:
        """A face, of which only those outlines are looked at that can hold the place where the line meets its plane."""
        if number not in self._faces_of:
            self._faces_of[number] = _Outlines(self._faces[number])
        return self._faces_of[number].near(line)

    def _crossings(self, point: gp_Pnt, way: gp_Dir) -> list[Crossing] | None:
        """All, in order; None when one lies on a border or touches only."""
        found: list[Crossing] = []
        line = gp_Lin(point, way)
        for number in self._met(np.array(of_xyz(point)), np.array(of_xyz(way))):
            face = self._near(number, line)
            if face is None:
                continue
            try:
                with kernel_step("crossing"):  # on some faces of rings it throws
                    face.Perform(line, -_FAR, _FAR)
            except KernelError:
                return None
            if not face.IsDone():
                return None
            for k in range(1, face.NbPnt() + 1):
                at, kind = face.WParameter(k), face.Transition(k)
                if face.State(k) != TopAbs_State.TopAbs_IN or kind not in (_IN, _OUT):
                    return None
                found.append((at, kind))
        return sorted(found, key=lambda crossing: crossing[0])

    def _met(self, at: NDArray[np.float64], way: NDArray[np.float64]) -> Iterator[int]:
        """The faces whose boxes the line meets."""
        ends = np.stack([(self._low - at) / way, (self._high - at) / way])
        met = ends.min(axis=0).max(axis=1) <= ends.max(axis=0).min(axis=1)
        yield from np.flatnonzero(met).tolist()


class _Outlines:
    """A face by its outlines: whether a plane one holds a place is decided by those whose boxes hold it."""

    def __init__(self, face: TopoDS_Face) -> None:
        self._face = face
        self._loaded: dict[tuple[int, ...] | None, IntCurvesFace_Intersector] = {}
        surface = BRepAdaptor_Surface(face, False)
        self._plane = None
        if face.NbChildren() >= LOOPS and surface.GetType() == GeomAbs_SurfaceType.GeomAbs_Plane:
            self._plane = surface.Plane().Position()
            self._wires = _children(face)
            boxes = [rough_box(wire) for wire in self._wires]
            self._low = np.array([of_xyz(box.CornerMin()) for box in boxes]) - LENGTH
            self._high = np.array([of_xyz(box.CornerMax()) for box in boxes]) + LENGTH

    def near(self, line: gp_Lin) -> IntCurvesFace_Intersector | None:
        """What a line is to be crossed with; None when no outline is round the place."""
        key = None if self._plane is None else self._around(self._plane, line)
        if key == ():
            return None
        if key not in self._loaded:
            face = self._face if key is None else _of_wires(self._face, [self._wires[k] for k in key])
            self._loaded[key] = IntCurvesFace_Intersector(face, COINCIDENT)
        return self._loaded[key]

    def _around(self, plane: gp_Ax3, line: gp_Lin) -> tuple[int, ...] | None:
        """The numbers of the outlines whose boxes hold the place; None for a line along the plane."""
        start, way = np.array(of_xyz(line.Location())), np.array(of_xyz(line.Direction()))
        normal = np.array(of_xyz(plane.Direction()))
        rise = float(way @ normal)
        if abs(rise) < COINCIDENT:
            return None
        place = start + way * float((np.array(of_xyz(plane.Location())) - start) @ normal) / rise
        return tuple(np.flatnonzero(np.all((self._low <= place) & (place <= self._high), axis=1)).tolist())


def _children(face: TopoDS_Face) -> list[TopoDS_Shape]:
    found, members = [], TopoDS_Iterator(face.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
    while members.More():
        found.append(members.Value())
        members.Next()
    return found


def _of_wires(face: TopoDS_Face, wires: list[TopoDS_Shape]) -> TopoDS_Face:
    """The face within some of its outlines."""
    own = face.Oriented(TopAbs_Orientation.TopAbs_FORWARD).EmptyCopied()
    for wire in wires:
        BRep_Builder().Add(own, wire)
    return TopoDS.Face_s(own.Oriented(face.Orientation()))


def _answer(crossings: list[Crossing], tolerance: float) -> TopAbs_State | None:
    """What both halves of the line say: in and out by turns, the whole line, from outside to outside; or that it meets
    a face at the point itself. None beside one, where the point's side is a matter of how the face is worked out."""
    nearest = min((abs(at) for at, _ in crossings), default=math.inf)
    if nearest <= LENGTH:
        return TopAbs_State.TopAbs_ON if nearest <= tolerance else None
    kinds = [kind for _, kind in crossings]
    if not kinds or len(kinds) % 2 or any(kind != (_OUT if k % 2 else _IN) for k, kind in enumerate(kinds)):
        return None
    return TopAbs_State.TopAbs_IN if sum(at < 0 for at, _ in crossings) % 2 else TopAbs_State.TopAbs_OUT
