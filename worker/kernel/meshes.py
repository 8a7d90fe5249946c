"""Booleans on triangle meshes: the way that is left when no boolean on the solids themselves works.

The meshes are closed and cut by a library that keeps them closed; round faces are chords within a stated distance.
The library is loaded when first needed: a check whose solids can be cut never pays for it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import BALANCE, COINCIDENT, VOLUME_NOTHING
from worker.kernel.errors import KernelError
from worker.kernel.linked import connected
from worker.kernel.measure import volume
from worker.kernel.mesh import triangulate
from worker.kernel.shape import Body, is_empty, solids

if TYPE_CHECKING:
    from manifold3d import Manifold, Mesh64

Points = NDArray[np.float64]
Corners = NDArray[np.int64]
Triangles = NDArray[np.int32]
MOST_TRIANGLES = 40_000
"""Larger stocks are not carried on by meshes: their faceted solids would cost minutes."""
PLANE = 1e-7
"""Triangles of one face are in one plane when their unit normals agree to this."""


@dataclass(frozen=True, eq=False)
class Mesh:
    """A closed mesh: ``solid`` is the library's; ``faces`` maps its triangles' face numbers to those of the body
    (``first`` is the number of the first); ``round_area`` is the area of its round faces, mm2."""

    solid: Manifold
    original: int
    faces: NDArray[np.int64]
    round_area: float


def mesh_of(body: Body, chord: float) -> Mesh:
    """A body's solids as one closed mesh, chords within ``chord`` mm. Raises KernelError where it does not close."""
    parts = [_closed(solid, chord) for solid in solids(body)]
    if len(parts) == 1:
        return parts[0]
    return Mesh(_joined(parts), -1, np.zeros(0, np.int64), sum(part.round_area for part in parts))


def _joined(parts: Sequence[Mesh]) -> Manifold:
    from manifold3d import Manifold, OpType

    return Manifold.batch_boolean([part.solid for part in parts], OpType.Add)


def _closed(solid: Body, chord: float) -> Mesh:
    from manifold3d import Manifold, Mesh64

    points, corners, owner = triangulate(solid, chord, swift=True)
    merged, number = _shared(points)
    joined = number[corners]
    whole = (joined != np.roll(joined, 1, axis=1)).all(axis=1)  # at a pole or an apex triangles have no area
    joined, owner = _without_hairlines(merged, joined[whole], owner[whole])
    numbers, faces, round_area = _numbers(merged[joined], owner)
    original = Manifold.reserve_ids(1)
    mesh = Mesh64(
        merged,
        joined.astype(np.uint64),
        run_index=np.array([0, joined.size], np.uint64),
        run_original_id=np.array([original], np.uint32),
        face_id=numbers.astype(np.uint64),
    )
    made = Manifold(mesh)
    if made.status().name != "NoError" or made.is_empty() or made.volume() <= 0:
        raise KernelError("mesh", f"the triangles of a solid do not close ({made.status().name})")
    if abs(made.volume() - volume(solid)) > chord * round_area + BALANCE * made.volume():
        raise KernelError("mesh", "the triangles of a solid do not have its volume")
    return Mesh(made, original, faces, round_area)


def _shared(points: Points) -> tuple[Points, Corners]:
    """Points at one place (within half of COINCIDENT) made one: the points, and the number of each in them.

    Each of eight grids, shifted by half a cell along some axes, joins what lies in one cell: two points so near each
    other share a cell in at least one of them.
    """
    number = np.arange(len(points), dtype=np.int64)
    for shift in itertools.product((0.0, 0.5), repeat=3):
        keys = np.floor(points / COINCIDENT + shift).astype(np.int64)
        _, first, joined = np.unique(keys, axis=0, return_index=True, return_inverse=True)
        if len(first) < len(points):
            points, number = points[first], joined.reshape(-1).astype(np.int64)[number]
    return points, number


def _without_hairlines(points: Points, corners: Corners, owner: Triangles) -> tuple[Corners, Triangles]:
    """The triangles, with openings between them that are no wider than COINCIDENT filled: where two faces meet in an
    edge of each instead of one of both, points of the one have none across. What else is open stays so."""
    sides = corners[:, (0, 1, 1, 2, 2, 0)].reshape(-1, 2)
    name = len(points) * sides + sides[:, ::-1]
    lone = np.flatnonzero(~np.isin(name[:, 0], name[:, 1]))
    back = {int(sides[n, 1]): (int(sides[n, 0]), int(owner[n // 3])) for n in lone}
    more: list[tuple[int, int, int]] = []
    owners: list[int] = []
    while back:
        start, (here, face) = back.popitem()
        loop = [start]
        while here != start and here in back:
            loop.append(here)
            here, _ = back.pop(here)
        if here == start and _is_hair(points[loop]):
            more += [(start, a, b) for a, b in itertools.pairwise(loop[1:])]
            owners += [face] * (len(loop) - 2)
    if not more:
        return corners, owner
    return np.concatenate([corners, np.array(more)]), np.concatenate([owner, np.array(owners, owner.dtype)])


def _is_hair(loop: Points) -> bool:
    """Whether places all lie within COINCIDENT of one line."""
    off = loop - loop[0]
    far = off[np.argmax(np.linalg.norm(off, axis=1))]
    along = far / max(float(np.linalg.norm(far)), COINCIDENT)
    return bool(np.linalg.norm(np.cross(off, along), axis=1).max() <= COINCIDENT)


def _numbers(triangles: Points, owner: NDArray[np.int32]) -> tuple[Corners, NDArray[np.int64], float]:
    """A number for each triangle, the body's face of each number, and the area of the round faces.

    Triangles of one face that lie in one plane share a number: they may be joined.
    """
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(normal, axis=1)
    unit = normal / np.maximum(size, 1e-300)[:, None]
    height = np.einsum("ij,ij->i", unit, triangles[:, 0])
    keys = np.column_stack([owner, np.round(unit / PLANE), np.round(height / COINCIDENT)]).astype(np.int64)
    planes, numbers = np.unique(keys, axis=0, return_inverse=True)
    faces = planes[:, 0]
    round_faces = [face for face, count in zip(*np.unique(faces, return_counts=True), strict=True) if count > 1]
    return numbers.reshape(-1), faces, float(size[np.isin(owner, round_faces)].sum() / 2)


@dataclass(frozen=True, eq=False)
class Piece:
    """One connected piece of a result: ``points`` (n, 3), ``corners`` (m, 3); which mesh each triangle comes from
    (``source``, its ``original``) and the number of its face there; ``skin`` numbers its outside and its voids."""

    points: Points
    corners: Corners
    source: NDArray[np.int64]
    face: NDArray[np.int64]
    skin: NDArray[np.int64]
    volume: float


def pieces(solid: Manifold) -> tuple[Piece, ...]:
    """The connected pieces of a result, in an order that only their shape decides; voids go with what holds them.

    Points too near each other for the kernel are made one, and crumbs of no volume left out. Raises KernelError where
    it is not plain which piece holds a void.
    """
    found = [_welded(_piece(part)) for part in solid.decompose()]
    found = [piece for piece in found if abs(piece.volume) > VOLUME_NOTHING]
    metal = [p for p in found if p.volume > 0]
    voids = [p for p in found if p.volume < 0]
    if voids and len(metal) > 1:
        raise KernelError("mesh", "several pieces with voids")
    if voids:
        metal = [_with_voids(metal[0], voids)]
    return tuple(sorted(metal, key=lambda p: (-round(p.volume, 6), *p.points.min(axis=0), *p.points.max(axis=0))))


def _piece(part: Manifold) -> Piece:
    mesh = part.to_mesh64()
    ends = np.asarray(mesh.run_index, np.int64) // 3
    runs = ends[1:] - ends[:-1]
    source = np.repeat(np.asarray(mesh.run_original_id, np.int64), runs)
    points = np.asarray(mesh.vert_properties, np.float64)[:, :3]
    corners = np.asarray(mesh.tri_verts, np.int64)
    return Piece(
        points,
        corners,
        source,
        np.asarray(mesh.face_id, np.int64),
        np.zeros(len(corners), np.int64),
        float(part.volume()),
    )


def _welded(piece: Piece) -> Piece:
    """Points within COINCIDENT made one; triangles that this leaves without area, or back to back, are gone."""
    points, number = _shared(piece.points)
    corners = number[piece.corners]
    kept = (corners != np.roll(corners, 1, axis=1)).all(axis=1)
    seen: dict[tuple[int, ...], int] = {}
    for index in np.flatnonzero(kept) if not kept.all() else ():
        key = tuple(sorted(corners[index].tolist()))
        if (other := seen.pop(key, None)) is not None:
            kept[[index, other]] = False
        else:
            seen[key] = int(index)
    return Piece(points, corners[kept], piece.source[kept], piece.face[kept], piece.skin[kept], piece.volume)


def _with_voids(outer: Piece, voids: Sequence[Piece]) -> Piece:
    every = (outer, *sorted(voids, key=lambda p: tuple(p.points.min(axis=0))))
    shift = np.cumsum([0, *(len(p.points) for p in every[:-1])])
    return Piece(
        np.concatenate([p.points for p in every]),
        np.concatenate([p.corners + s for p, s in zip(every, shift, strict=True)]),
        np.concatenate([p.source for p in every]),
        np.concatenate([p.face for p in every]),
        np.repeat(np.arange(len(every)), [len(p.corners) for p in every]),
        sum(p.volume for p in every),
    )


def split_by(stock: Mesh, tools: Sequence[Body], chord: float) -> tuple[Manifold, Mesh]:
    """What the tools take of the stock, and what they leave; its round area counts all round faces ever cut with."""
    cutters = [mesh_of(tool, chord) for tool in tools if not is_empty(tool)]
    tool = _joined(cutters)
    area = stock.round_area + sum(cutter.round_area for cutter in cutters)
    left = stock.solid - tool
    if left.num_tri() > MOST_TRIANGLES:
        raise KernelError("mesh", f"more than {MOST_TRIANGLES} triangles")
    return stock.solid ^ tool, Mesh(left, -1, np.zeros(0, np.int64), area)


def shared_volume(first: Body, second: Body, chord: float) -> float:
    """What two bodies have in common (mm3), round faces as chords within ``chord`` mm. Raises KernelError.

    For bodies that share nearly all their faces: the exact boolean meets every face with itself a hair aside there.
    """
    return float((mesh_of(first, chord).solid ^ mesh_of(second, chord).solid).volume())


AROUND = tuple(
    (x / n, y / n, z / n)
    for x in (-1, 0, 1)
    for y in (-1, 0, 1)
    for z in (-1, 0, 1)
    for n in (math.sqrt(x * x + y * y + z * z),)
    if abs(x) + abs(y) + abs(z) in (1, 3)
)
"""Along the axes and the corners of a cube: no direction is further than 55 / 2 degrees from one of them."""


def standing_on(part: Mesh, stock: Mesh, film: float) -> tuple[Piece, ...]:
    """What of the stock stands outside the part and is thicker than ``film`` mm, less a layer of that thickness.

    The chords of part and stock part by films; the part moved a little to all sides takes them away. Films that are
    pieces of their own go at once: thousands of them, each looked at in each step and parted by itself, took minutes.
    """
    left = without_crumbs(stock.solid - part.solid)
    for x, y, z in AROUND:
        left = without_crumbs(left - part.solid.translate((film * x, film * y, film * z)))
    return pieces(left)


def without_crumbs(solid: Manifold) -> Manifold:
    """The same less its connected pieces of no volume, which no cut makes larger; voids are no such pieces.

    The library makes a mesh anew of what is left, and drops triangles where a mesh touches itself: then all stay.
    """
    from manifold3d import Manifold

    mesh = solid.to_mesh64()
    corners = np.asarray(mesh.tri_verts, np.int64)
    cones = _cones(np.asarray(mesh.vert_properties, np.float64)[:, :3], corners)
    piece = connected(len(mesh.vert_properties), corners[:, (0, 0)].ravel(), corners[:, 1:].ravel())[corners[:, 0]]
    kept = np.abs(np.bincount(piece, cones))[piece] > VOLUME_NOTHING
    if kept.all():
        return solid
    if not kept.any():
        return Manifold()
    made = _of_triangles(mesh, kept)
    return made if abs(made.volume() - cones[kept].sum()) <= VOLUME_NOTHING else solid


def _of_triangles(mesh: Mesh64, kept: NDArray[np.bool_]) -> Manifold:
    """Some of a mesh's triangles, which still know the face that each comes from."""
    from manifold3d import Manifold, Mesh64

    runs = np.concatenate([[0], np.cumsum(kept)])[np.asarray(mesh.run_index, np.int64) // 3]
    used, numbers = np.unique(np.asarray(mesh.tri_verts)[kept], return_inverse=True)
    found = Mesh64(
        np.ascontiguousarray(mesh.vert_properties[used, :3]),
        numbers.reshape(-1, 3).astype(np.uint64),
        run_index=(3 * runs).astype(np.uint64),
        run_original_id=np.asarray(mesh.run_original_id, np.uint32),
        face_id=np.asarray(mesh.face_id, np.uint64)[kept],
    )
    return Manifold(found)


def _cones(points: Points, corners: Corners) -> Points:
    """Signed volumes between triangles and the first point."""
    a, b, c = (points - points[:1])[corners].transpose(1, 0, 2)
    return np.asarray(np.einsum("ij,ij->i", a, np.cross(b, c)) / 6, np.float64)


def covered(piece: Piece, part: Mesh) -> dict[int, float]:
    """Faces of the part that a piece stands on, with the area on each (mm2)."""
    mine = np.flatnonzero(piece.source == part.original)
    corners = piece.points[piece.corners[mine]]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    owners = part.faces[piece.face[mine]]
    return {int(face): float(areas[owners == face].sum()) for face in np.unique(owners)}
