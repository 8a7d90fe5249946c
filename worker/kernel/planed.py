"""Flat faces that a file writes as free forms, made planes: the kernel cuts, measures and triangulates these exactly.

As a spline a flat floor with a round hole is cut into tens of thousands of triangles, and booleans of what lies in its
plane fail. An edge on a plane needs no curve on it: the plane alone replaces the spline.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.Geom import Geom_Plane
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Vec
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS_Face

from schemas.base import dot
from worker.kernel.shape import Body, copied, edges, faces, of_xyz
from worker.kernel.validity import faults

FLAT = 1e-7
"""Poles lie this near (mm) to one plane: within the kernel's own confusion distance."""
SPLINES = frozenset({GeomAbs_SurfaceType.GeomAbs_BSplineSurface, GeomAbs_SurfaceType.GeomAbs_BezierSurface})


def planed(body: Body) -> Body:
    """The body with planes for flat splines; the same body where there are none, or where the kernel refuses it then.
    Faces and edges keep their order."""
    if not any(_plane_of(face) for face in faces(body)):
        return body
    made = copied(body)
    for face in faces(made):
        plane = _plane_of(face)
        if plane is not None:
            _lay(face, plane)
    return body if faults(made) else made


def _lay(face: TopoDS_Face, plane: Geom_Plane) -> None:
    builder, own = BRep_Builder(), BRep_Tool.Surface_s(face)
    for edge in edges(face):
        builder.UpdateEdge(edge, None, own, TopLoc_Location(), BRep_Tool.Tolerance_s(edge))
    builder.UpdateFace(face, plane, TopLoc_Location(), BRep_Tool.Tolerance_s(face))


def _plane_of(face: TopoDS_Face) -> Geom_Plane | None:
    """The plane that all poles of a face's spline lie in, looking as it does; None of any other face."""
    adaptor = BRepAdaptor_Surface(face, False)
    if adaptor.GetType() not in SPLINES or any(BRep_Tool.Degenerated_s(edge) for edge in edges(face)):
        return None
    poles = _poles(adaptor)
    flat = poles.reshape(-1, 3) - poles[0, 0]
    normal = np.linalg.svd(flat - flat.mean(axis=0), full_matrices=False)[2][2]
    if np.ptp(flat @ normal) > FLAT:
        return None
    at, u, v = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1(
        (adaptor.FirstUParameter() + adaptor.LastUParameter()) / 2,
        (adaptor.FirstVParameter() + adaptor.LastVParameter()) / 2,
        at,
        u,
        v,
    )
    way = normal if dot(normal, of_xyz(u.Crossed(v))) > 0 else -normal
    return Geom_Plane(gp_Ax3(at, gp_Dir(*way)))


def _poles(adaptor: BRepAdaptor_Surface) -> NDArray[np.float64]:
    own = adaptor.BSpline() if adaptor.GetType() == GeomAbs_SurfaceType.GeomAbs_BSplineSurface else adaptor.Bezier()
    rows, columns = range(1, own.NbUPoles() + 1), range(1, own.NbVPoles() + 1)
    return np.array([[own.Pole(i, j).Coord() for j in columns] for i in rows])
