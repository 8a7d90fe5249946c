"""Points along a face's border with the face's own normals and the border's way there (setup's frame, mm)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Edge

from schemas.base import Vec3, scale
from worker.kernel.facefacts import FaceFacts, face_facts, normal_at
from worker.kernel.measure import length
from worker.kernel.shape import Body, edges, of_xyz
from worker.kernel.view import View

Floats = NDArray[np.float64]
SMALLEST = 1e-12
"""A shorter derivative tells no way."""


@dataclass(frozen=True, eq=False)
class Side:
    """One edge of a face: points (n, 3) on it, and there the face's outward normals and the edge's way (n, 3)."""

    points: Floats
    normals: Floats
    ways: Floats


def border_sides(body: Body, index: int, view: View, step: float) -> list[Side]:
    """The edges of a face but its seams, their points no further apart than ``step``; points without a normal are left
    out."""
    facts, every = face_facts(body)[index], edges(body.wrapped)
    runs = Counter(n for n, _ in facts.border)
    found = [list(_along(facts, every[n], step)) for n, count in runs.items() if count == 1]
    return [
        Side(
            np.array([view.to_local(p) for p, _, _ in one]),
            np.array([view.direction_to_local(n) for _, n, _ in one]),
            np.array([view.direction_to_local(w) for _, _, w in one]),
        )
        for one in found
        if one
    ]


def _along(facts: FaceFacts, edge: TopoDS_Edge, step: float) -> Iterator[tuple[Vec3, Vec3, Vec3]]:
    if BRep_Tool.Degenerated_s(edge):
        return
    sign = -1.0 if facts.face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    curve, point, way = BRepAdaptor_Curve(edge), gp_Pnt(), gp_Vec()
    first, last = curve.FirstParameter(), curve.LastParameter()
    on_face = BRep_Tool.CurveOnSurface_s(edge, facts.face, first, last)
    for t in np.linspace(first, last, math.ceil(length(edge) / step) + 1).tolist():
        at = on_face.Value(t)
        curve.D1(t, point, way)
        normal = normal_at(facts.adaptor, at.X(), at.Y())
        if normal is not None and way.Magnitude() > SMALLEST:
            yield of_xyz(point), scale(normal, sign), of_xyz(way.Normalized())
