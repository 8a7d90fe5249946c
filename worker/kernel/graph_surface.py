"""The carrier surface of a face in plain numbers; free-form encodings are read back as the simple surface they are."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Ax3, gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Face

from schemas.base import Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.tolerances import CANONICAL, CANONICAL_NORMAL
from worker.kernel.shape import of_xyz
from worker.kernel.splines import Net, alike, surface_nets, surface_slopes

Kind = Literal["plane", "cylinder", "cone", "sphere", "torus", "other"]
Array = NDArray[np.float64]

GRID = 6
"""A free-form face is sampled at GRID x GRID parameters."""
LEAST = 8
"""Fewer samples say nothing."""
SINGULAR = 1e-14
"""Where the derivatives' vector product is no longer (mm2), a face has no normal."""


@dataclass(frozen=True, slots=True)
class Surface:
    """A carrier surface. Lengths in mm, angles in radians.

    ``origin`` and ``axis``: a point and the unit normal of a plane (the normal points out of the material);
    a point on the axis and its direction for cylinder and torus (the torus centre); the apex and the direction in
    which it widens for a cone; the centre of a sphere. ``hollow``: the outward normal points to the axis (of a
    torus: to the middle of its tube), as on a bore. ``radius``: cylinder, sphere, torus (large); ``minor``: the
    torus' tube; ``half_angle``: cone.
    """

    kind: Kind
    origin: Vec3
    axis: Vec3
    hollow: bool = False
    radius: float = 0.0
    minor: float = 0.0
    half_angle: float = 0.0


class Samples(NamedTuple):
    """Points (n, 3) and outward unit normals (n, 3) of a face, and the singular values of the normals' lines (6)."""

    points: Array
    normals: Array
    values: Array


class Reading(NamedTuple):
    """A face's carrier and its evaluator; of a free-form face the samples it was read by, its poles where known."""

    surface: Surface
    adaptor: BRepAdaptor_Surface
    samples: Samples | None = None
    net: Net | None = None


def surface_of(face: TopoDS_Face) -> tuple[Surface, BRepAdaptor_Surface]:
    """The face's carrier and its evaluator; a face without simple carrier has kind "other"."""
    return surfaces_read([face])[0][:2]


def surfaces_read(faces: Sequence[TopoDS_Face]) -> list[Reading]:
    """The same of several faces, with what free-form ones are read by."""
    adaptors = [BRepAdaptor_Surface(face, True) for face in faces]
    flips = [-1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0 for face in faces]
    free = [n for n, adaptor in enumerate(adaptors) if adaptor.GetType() not in _READERS]
    nets = surface_nets([adaptors[n] for n in free])
    read = samples([adaptors[n] for n in free], [flips[n] for n in free], nets)
    known = {n: Reading(_fitted(s), adaptors[n], s, net) for n, s, net in zip(free, read, nets, strict=True)}
    return [
        known[n] if n in known else Reading(_READERS[adaptor.GetType()](adaptor, flips[n]), adaptor)
        for n, adaptor in enumerate(adaptors)
    ]


def normal_at(surface: Surface, point: Vec3) -> Vec3:
    """The outward normal of a simple carrier at a point on it (not for kind "other")."""
    if surface.kind == "plane":
        return surface.axis
    out = _away(surface, point)
    size = norm(out) or 1.0
    return scale(out, (-1.0 if surface.hollow else 1.0) / size)


def _away(surface: Surface, point: Vec3) -> Vec3:
    """The vector square to the surface, away from its axis or centre."""
    d = sub(point, surface.origin)
    if surface.kind == "sphere":
        return d
    along = dot(d, surface.axis)
    radial = add(d, surface.axis, -along)
    if surface.kind == "cylinder":
        return radial
    size = norm(radial) or 1.0
    if surface.kind == "torus":
        return sub(d, scale(radial, surface.radius / size))
    return add(scale(radial, math.cos(surface.half_angle) / size), surface.axis, -math.sin(surface.half_angle))


def evaluated_normal(adaptor: BRepAdaptor_Surface, u: float, v: float, flip: float) -> tuple[Vec3, Vec3]:
    """Point and outward normal at parameters; a null normal where the surface is singular."""
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1(u, v, p, du, dv)
    n = cross(of_xyz(du), of_xyz(dv))
    size = norm(n)
    return of_xyz(p), scale(n, flip / size) if size > SINGULAR else (0.0, 0.0, 0.0)


def evaluated_normals(faces: Sequence[tuple[BRepAdaptor_Surface, float, Net | None]], us: Array, vs: Array) -> Array:
    """The same normals of several faces, each at as many places (n, k): (n, k, 3)."""
    found = np.zeros((*us.shape, 3))
    nets = [net for _, _, net in faces]
    for members in alike(nets):
        own = [net for n in members if (net := nets[n])]
        _, du, dv = surface_slopes(own, us[members], vs[members], paired=True)
        square = crossed(du.reshape(-1, 3), dv.reshape(-1, 3)).reshape(du.shape)
        size, flips = np.sqrt(np.einsum("...k,...k->...", square, square)), np.array([faces[n][1] for n in members])
        found[members] = square * (flips[:, None] * (size > SINGULAR) / np.maximum(size, SINGULAR))[..., None]
    for n, (adaptor, flip, net) in enumerate(faces):
        if net is None:
            places = zip(us[n].tolist(), vs[n].tolist(), strict=True)
            found[n] = [evaluated_normal(adaptor, u, v, flip)[1] for u, v in places]
    return found


def _middle(adaptor: BRepAdaptor_Surface) -> tuple[float, float]:
    return (
        0.5 * (adaptor.FirstUParameter() + adaptor.LastUParameter()),
        0.5 * (adaptor.FirstVParameter() + adaptor.LastVParameter()),
    )


def _oriented(surface: Surface, adaptor: BRepAdaptor_Surface, flip: float) -> Surface:
    """The surface with its side of the material, decided at the middle of the face's parameters."""
    point, normal = evaluated_normal(adaptor, *_middle(adaptor), flip)
    if dot(normal, _away(surface, point)) >= 0:
        return surface
    return Surface(surface.kind, surface.origin, surface.axis, True, surface.radius, surface.minor, surface.half_angle)


def _placed(position: gp_Ax3) -> tuple[Vec3, Vec3]:
    return of_xyz(position.Location()), of_xyz(position.Direction())


def _plane(adaptor: BRepAdaptor_Surface, flip: float) -> Surface:
    position = adaptor.Plane().Position()
    if not position.Direct():
        flip = -flip
    return Surface("plane", of_xyz(position.Location()), unit(scale(of_xyz(position.Direction()), flip)))


def _cylinder(adaptor: BRepAdaptor_Surface, flip: float) -> Surface:
    cylinder = adaptor.Cylinder()
    return _oriented(Surface("cylinder", *_placed(cylinder.Position()), radius=cylinder.Radius()), adaptor, flip)


def _cone(adaptor: BRepAdaptor_Surface, flip: float) -> Surface:
    cone = adaptor.Cone()
    apex, axis, angle = of_xyz(cone.Apex()), of_xyz(cone.Position().Direction()), cone.SemiAngle()
    if angle < 0:
        angle = -angle
    point, _ = evaluated_normal(adaptor, *_middle(adaptor), flip)
    if dot(sub(point, apex), axis) < 0:
        axis = scale(axis, -1.0)
    return _oriented(Surface("cone", apex, axis, half_angle=angle), adaptor, flip)


def _sphere(adaptor: BRepAdaptor_Surface, flip: float) -> Surface:
    sphere = adaptor.Sphere()
    return _oriented(Surface("sphere", *_placed(sphere.Position()), radius=sphere.Radius()), adaptor, flip)


def _torus(adaptor: BRepAdaptor_Surface, flip: float) -> Surface:
    torus = adaptor.Torus()
    carrier = Surface("torus", *_placed(torus.Position()), radius=torus.MajorRadius(), minor=torus.MinorRadius())
    return _oriented(carrier, adaptor, flip)


_READERS = {
    GeomAbs_SurfaceType.GeomAbs_Plane: _plane,
    GeomAbs_SurfaceType.GeomAbs_Cylinder: _cylinder,
    GeomAbs_SurfaceType.GeomAbs_Cone: _cone,
    GeomAbs_SurfaceType.GeomAbs_Sphere: _sphere,
    GeomAbs_SurfaceType.GeomAbs_Torus: _torus,
}


def _fitted(read: Samples) -> Surface:
    """The simple surface through sampled points and normals, if one fits; else kind "other"."""
    points, normals, _ = read
    if len(points) < LEAST:
        return Surface("other", (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    fits = (_fit_plane, _fit_sphere, _fit_cylinder, _fit_cone, _fit_torus) if _may_turn(read) else ()
    for fit in fits:
        found = fit(points, normals)
        if found is not None and _fits(found, points, normals):
            return found
    middle = points[len(points) // 2]
    return Surface("other", _vec(middle), _vec(normals[len(points) // 2]))


def _may_turn(read: Samples) -> bool:
    """False when no surface of revolution fits: all simple ones are such, and all their normals meet an axis.

    That makes the normals' line coordinates dependent; the least singular value is at most what all deviations that
    ``_fits`` allows come to (Weyl), here taken twice.
    """
    allowed = 5 * CANONICAL_NORMAL + CANONICAL / size_of(read.points)
    return bool(read.values[5] <= 2 * math.sqrt(len(read.points)) * allowed)


def size_of(points: Array) -> float:
    """How far points (n, 3) lie off their mean along an axis (mm); 1 for one point."""
    return float(np.abs(points - points.mean(axis=0)).max()) or 1.0


def moments(points: Array, normals: Array) -> Array:
    """Line coordinates of normals at points about their mean, lengths in their size: (..., n, 3) to (..., n, 6)."""
    rest = points - points.mean(axis=-2, keepdims=True)
    size = np.abs(rest).max(axis=(-2, -1), keepdims=True)
    rest /= np.where(size > 0.0, size, 1.0)
    turned = crossed(rest.reshape(-1, 3), normals.reshape(-1, 3)).reshape(rest.shape)
    return np.concatenate([turned, normals], axis=-1)


def spread(points: Array, normals: Array) -> Array:
    """The singular values of the normals' line coordinates, greatest first: (..., n, 3) to (..., 6)."""
    return np.asarray(np.linalg.svd(moments(points, normals), compute_uv=False), np.float64)


def crossed(a: Array, b: Array) -> Array:
    """Vector products of rows (n, 3); numpy's own moves axes about first, its stack takes as long."""
    (x, y, z), (u, v, w) = a.T, b.T
    found = np.empty((np.broadcast(x, u).size, 3))
    found[:, 0], found[:, 1], found[:, 2] = y * w - z * v, z * u - x * w, x * v - y * u
    return found


def samples(
    adaptors: Sequence[BRepAdaptor_Surface], flips: Sequence[float], nets: Sequence[Net | None]
) -> list[Samples]:
    """Points and outward normals spread over the parameters of each face, without its singular places."""
    if not adaptors:
        return []
    at, du, dv = _slopes(adaptors, nets).transpose(1, 0, 2, 3)
    square = crossed(du.reshape(-1, 3), dv.reshape(-1, 3)).reshape(at.shape)
    size = np.sqrt(np.einsum("...k,...k->...", square, square))
    sound = size > SINGULAR
    normals = square * (np.array(flips)[:, None] / np.where(sound, size, 1.0))[..., None]
    values, whole = np.zeros((len(at), 6)), sound.all(axis=1)
    values[whole] = spread(at[whole], normals[whole])
    found = list(map(Samples, at, normals, values))
    for n in np.flatnonzero(~whole).tolist():
        points, some = at[n, sound[n]], normals[n, sound[n]]
        found[n] = Samples(points, some, spread(points, some) if len(points) >= LEAST else values[n])
    return found


def _slopes(adaptors: Sequence[BRepAdaptor_Surface], nets: Sequence[Net | None]) -> Array:
    """Points of each face and the derivatives there by both parameters: (n, 3, GRID x GRID, 3)."""
    numbers: Array = np.arange(GRID, dtype=np.float64)
    shares = (numbers + 0.37) / (GRID - 0.25), (numbers + 0.41) / (GRID - 0.2)
    found = np.zeros((len(adaptors), 3, GRID * GRID, 3))
    for members in alike(nets):
        own = [net for n in members if (net := nets[n])]
        first, last = np.array([net.bounds for net in own]).transpose(2, 1, 0)[..., None]
        us, vs = (first[k] + (last[k] - first[k]) * shares[k] for k in (0, 1))
        found[members] = np.stack(surface_slopes(own, us, vs), axis=1).reshape(len(own), 3, -1, 3)
    for n, adaptor in enumerate(adaptors):
        if nets[n] is None:
            found[n] = _kernel_slopes(adaptor, shares)
    return found


def _kernel_slopes(adaptor: BRepAdaptor_Surface, shares: tuple[Array, Array]) -> Array:
    """The same of one face, as the kernel tells it."""
    u0, v0 = adaptor.FirstUParameter(), adaptor.FirstVParameter()
    wide, high = adaptor.LastUParameter() - u0, adaptor.LastVParameter() - v0
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    rows = []
    for u in (u0 + wide * shares[0]).tolist():
        for v in (v0 + high * shares[1]).tolist():
            adaptor.D1(u, v, p, du, dv)
            rows.append((p.Coord(), du.Coord(), dv.Coord()))
    return np.array(rows).transpose(1, 0, 2)


def _vec(a: Array) -> Vec3:
    return (float(a[0]), float(a[1]), float(a[2]))


def _fits(surface: Surface, points: Array, normals: Array) -> bool:
    """True when every sample lies on the surface (CANONICAL, mm) with its normal (CANONICAL_NORMAL, rad)."""
    for point, normal in zip(points[::7], normals[::7], strict=True):  # most are told by a few
        if np.abs(np.array(normal_at(surface, _vec(point))) - normal).max() > CANONICAL_NORMAL:
            return False
    wanted = np.array([normal_at(surface, _vec(p)) for p in points])
    if np.abs(wanted - normals).max() > CANONICAL_NORMAL:
        return False
    return max(abs(off_surface(surface, _vec(p))) for p in points) <= CANONICAL


def off_surface(surface: Surface, point: Vec3) -> float:
    """Distance of a point from the surface (mm)."""
    d = sub(point, surface.origin)
    along = dot(d, surface.axis)
    if surface.kind == "plane":
        return along
    radial = norm(add(d, surface.axis, -along))
    if surface.kind == "sphere":
        return norm(d) - surface.radius
    if surface.kind == "cylinder":
        return radial - surface.radius
    if surface.kind == "cone":
        return radial * math.cos(surface.half_angle) - along * math.sin(surface.half_angle)
    return math.hypot(radial - surface.radius, along) - surface.minor


def _fit_plane(points: Array, normals: Array) -> Surface | None:
    mean = normals.mean(axis=0)
    if np.linalg.norm(mean) < 0.999:
        return None
    return Surface("plane", _vec(points.mean(axis=0)), unit(_vec(mean)))


def _centre(points: Array, normals: Array) -> tuple[Array, float]:
    """Least-squares centre c and signed radius r of p = c + r n (any dimension)."""
    size = points.shape[1]
    rows = np.hstack([np.tile(np.eye(size), (len(points), 1)), normals.reshape(-1, 1)])
    solution: Array = np.linalg.lstsq(rows, points.reshape(-1), rcond=None)[0].astype(np.float64)
    return solution[:size], float(solution[size])


def _fit_sphere(points: Array, normals: Array) -> Surface | None:
    centre, radius = _centre(points, normals)
    if abs(radius) > 1e5:
        return None
    return Surface("sphere", _vec(centre), (0.0, 0.0, 1.0), radius < 0, abs(radius))


def _fit_cylinder(points: Array, normals: Array) -> Surface | None:
    axis = np.linalg.svd(normals)[2][2]
    basis = np.linalg.svd(axis.reshape(1, 3))[2][1:]
    centre, radius = _centre(points @ basis.T, normals @ basis.T)
    if abs(radius) > 1e5:
        return None
    return Surface("cylinder", _vec(centre @ basis), unit(_vec(axis)), radius < 0, abs(radius))


def _fit_cone(points: Array, normals: Array) -> Surface | None:
    axis = np.linalg.svd(normals - normals.mean(axis=0))[2][2]
    apex = np.linalg.lstsq(normals, np.einsum("ij,ij->i", normals, points), rcond=None)[0]
    if (points.mean(axis=0) - apex) @ axis < 0:
        axis = -axis
    slope = float((normals @ axis).mean())
    if not 1e-6 < abs(slope) < 1 - 1e-9:
        return None
    return Surface("cone", _vec(apex), unit(_vec(axis)), slope > 0, half_angle=math.asin(abs(slope)))


def _fit_torus(points: Array, normals: Array) -> Surface | None:
    """All normals of a surface of revolution meet its axis: a linear system in the axis' line coordinates."""
    shift = points.mean(axis=0)
    moment = np.cross(points - shift, normals)
    values, vectors = np.linalg.svd(np.hstack([moment, normals]))[1:]
    axis, about = vectors[5][:3], vectors[5][3:]
    size = float(np.linalg.norm(axis))
    if size < 1e-9 or values[5] > 1e-6 * values[0]:
        return None
    axis, about = axis / size, about / size
    foot = np.cross(axis, about) + shift
    return _torus_about(points, normals, axis, foot)


def _torus_about(points: Array, normals: Array, axis: Array, foot: Array) -> Surface | None:
    along = (points - foot) @ axis
    radial = (points - foot) - along[:, None] * axis
    rho = np.linalg.norm(radial, axis=1)
    if rho.min() < 1e-9:
        return None
    inward = np.einsum("ij,ij->i", normals, radial) / rho
    centre, minor = _centre(np.stack([rho, along], axis=1), np.stack([inward, normals @ axis], axis=1))
    if centre[0] <= 0 or abs(minor) > 1e5:
        return None
    middle = foot + centre[1] * axis
    return Surface("torus", _vec(middle), unit(_vec(axis)), minor < 0, float(centre[0]), abs(minor))
