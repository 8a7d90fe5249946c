"""A closed mesh read as flat faces: triangles of one plane become one face, points along straight edges are left out.

Arrays alone: what the kernel's own joining of faces does to a solid of thousands of flats, a hundred times sooner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import COINCIDENT
from worker.kernel.errors import KernelError
from worker.kernel.linked import connected
from worker.kernel.meshes import Corners, Piece, Points

Loop = list[int]
CONFUSION = COINCIDENT / 10
"""Triangles are in one plane when each lies this near to the other's (mm): the kernel's own confusion distance."""
STRAIGHT = CONFUSION / 100
"""A point on an edge between two faces is left out when it lies this near to the line of its neighbours (mm)."""
ROUNDS = 20
"""Most times that slivers are joined on, or faces taken apart again; two or three are usual."""


@dataclass(frozen=True, eq=False)
class Flat:
    """One flat face: the ``skin`` it belongs to, its unit normal out of the metal, and its borders as loops of points,
    metal on the left, the outer one first."""

    skin: int
    normal: Points
    loops: tuple[Loop, ...]


@dataclass(frozen=True, eq=False)
class Flats:
    """The faces of a piece; ``points`` (n, 3), ``off`` (n,) how far each lies off the planes of its faces (mm)."""

    points: Points
    off: Points
    faces: tuple[Flat, ...]

    @property
    def volume(self) -> float:
        """Volume between the faces (mm3): cones from one point to all of them."""
        loops = [loop for face in self.faces for loop in face.loops]
        normals = np.array([face.normal for face in self.faces for _ in face.loops]).reshape(-1, 3)
        at = self.points[[loop[0] for loop in loops]] - self.points[loops[0][0]]
        heights, areas = (np.einsum("ij,ij->i", normals, v) for v in (at, _areas(self.points, loops)))
        return float(heights @ areas) / 6.0


def flats_of(piece: Piece) -> Flats:
    """The piece's triangles joined to flat faces. Raises KernelError where they do not close."""
    mesh = _Mesh(piece)
    owner = _joined(mesh)
    for _ in range(ROUNDS):
        loops = _loops(mesh, owner)
        apart = _without_one_outer(mesh, owner, loops)
        if not apart:
            return _flats(mesh, owner, loops)
        owner = _taken_apart(owner, apart)
    raise KernelError("mesh", "the borders of its faces cross")


class _Mesh:
    """Triangles with what lies beside each: half edge 3 t + k runs from corner k of triangle t to the next."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        self.points: Points = piece.points
        self.corners: Corners = piece.corners
        self.start = self.corners.reshape(-1)
        self.end = np.roll(self.corners, -1, axis=1).reshape(-1)
        self.twin = _twins(self.start, self.end, len(self.points))
        at = self.points[self.corners]
        across = np.cross(at[:, 1] - at[:, 0], at[:, 2] - at[:, 0])
        self.size = np.linalg.norm(across, axis=1)
        self.unit: Points = across / np.maximum(self.size, 1e-300)[:, None]
        self.length = np.linalg.norm(self.points[self.end] - self.points[self.start], axis=1)
        self.height = self.size / np.maximum(self.length.reshape(-1, 3).max(axis=1), 1e-300)


def _twins(start: Corners, end: Corners, count: int) -> Corners:
    """For each half edge the one that runs back; -1 where more than two triangles meet."""
    key = np.minimum(start, end) * count + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    size = np.diff(np.append(first, len(key)))
    forward = np.add.reduceat((start < end)[order].astype(np.int64), first)
    if (2 * forward != size).any():
        raise KernelError("mesh", "the triangles of a piece do not close")
    pairs = first[size == 2]
    twin = np.full(len(start), -1, np.int64)
    twin[order[pairs]], twin[order[pairs + 1]] = order[pairs + 1], order[pairs]
    return twin


def _joined(mesh: _Mesh) -> Corners:
    """The face of each triangle: those of one face before the cut, those in one plane, and slivers with a neighbour."""
    keys = np.column_stack([mesh.piece.skin, mesh.piece.source, mesh.piece.face])
    _, group = np.unique(keys, axis=0, return_inverse=True)
    group = group.reshape(-1)
    inner = np.flatnonzero(mesh.twin > np.arange(len(mesh.twin)))
    one, other = inner // 3, mesh.twin[inner] // 3
    largest = _largest(group, mesh.size)
    together = (group[one] == group[other]) | _in_one_plane(mesh, largest[group[one]], largest[group[other]])
    owner = connected(len(mesh.corners), one[together], other[together])
    for _ in range(ROUNDS):
        thin = np.ones(owner.max() + 1, np.bool_)
        thin[owner[mesh.height >= CONFUSION]] = False
        if not thin.any():
            return owner
        owner = _without_thin(mesh, owner, thin)
    raise KernelError("mesh", "slivers have no face beside them")


def _largest(group: Corners, size: Points) -> Corners:
    """The largest triangle of each group."""
    order = np.lexsort((-size, group))
    return order[np.flatnonzero(np.diff(group[order], prepend=-1))]


def _in_one_plane(mesh: _Mesh, one: Corners, other: Corners) -> NDArray[np.bool_]:
    """Whether two triangles look the same way and each lies in the other's plane."""
    alike = np.einsum("ij,ij->i", mesh.unit[one], mesh.unit[other]) > 0.5
    near = np.flatnonzero(alike & (mesh.height[one] >= CONFUSION) & (mesh.height[other] >= CONFUSION))
    found = np.zeros(len(one), np.bool_)
    off = np.maximum(_off(mesh, one[near], other[near]), _off(mesh, other[near], one[near]))
    found[near] = off <= CONFUSION
    return found


def _off(mesh: _Mesh, plane: Corners, triangle: Corners) -> Points:
    """How far the corners of triangles lie off the planes of others (mm)."""
    at = mesh.points[mesh.corners[triangle]] - mesh.points[mesh.corners[plane, 0]][:, None]
    return np.asarray(np.abs(np.einsum("ijk,ik->ij", at, mesh.unit[plane])).max(axis=1, initial=0.0), np.float64)


def _without_thin(mesh: _Mesh, owner: Corners, thin: NDArray[np.bool_]) -> Corners:
    """Faces of nothing but slivers joined to the face across their longest border."""
    border = np.flatnonzero((mesh.twin >= 0) & thin[owner].repeat(3))
    border = border[owner[border // 3] != owner[mesh.twin[border] // 3]]
    longest = border[_largest(owner[border // 3], mesh.length[border])] if len(border) else border
    pairs = owner[longest // 3], owner[mesh.twin[longest] // 3]
    return connected(int(owner.max()) + 1, *pairs)[owner]


def _loops(mesh: _Mesh, owner: Corners) -> dict[int, list[Loop]]:
    """The borders of each face, as loops that pass no point twice."""
    face = owner.repeat(3)
    twin = mesh.twin.tolist()
    border = ((mesh.twin < 0) | (face != face[mesh.twin])).tolist()
    start, owners = mesh.start.tolist(), face.tolist()
    done: set[int] = set()
    found: dict[int, list[Loop]] = {}
    for first in np.flatnonzero(border).tolist():
        if first in done:
            continue
        loop, here = [], first
        while here not in done:
            done.add(here)
            loop.append(start[here])
            here = _following(here)
            while not border[here]:
                here = _following(twin[here])
        found.setdefault(owners[first], []).extend(_simple(loop))
    return found


def _following(half: int) -> int:
    return half + 1 if half % 3 < 2 else half - 2


def _simple(loop: Loop) -> list[Loop]:
    """A loop that touches itself at points as several that do not."""
    if len(set(loop)) == len(loop):
        return [loop]
    found: list[Loop] = []
    path: Loop = []
    place: dict[int, int] = {}
    for point in loop:
        if point in place:
            found.append(path[place[point] :])
            for gone in path[place[point] :]:
                del place[gone]
            del path[len(place) :]
        place[point] = len(path)
        path.append(point)
    return [*found, path]


def _without_one_outer(mesh: _Mesh, owner: Corners, loops: dict[int, list[Loop]]) -> list[int]:
    """The faces that not exactly one border runs round from outside."""
    largest = _largest(owner, mesh.size)
    found = []
    for face, several in loops.items():
        if len(several) > 1 and (_areas(mesh.points, several) @ mesh.unit[largest[face]] > 0).sum() != 1:
            found.append(face)
    return found


def _taken_apart(owner: Corners, faces: list[int]) -> Corners:
    """Each triangle of the faces by itself."""
    found = owner.copy()
    alone = np.flatnonzero(np.isin(owner, faces))
    found[alone] = owner.max() + 1 + np.arange(len(alone))
    return np.asarray(np.unique(found, return_inverse=True)[1].reshape(-1), np.int64)


def _areas(points: Points, loops: list[Loop]) -> Points:
    """Twice the area of each loop as a vector along its normal (n, 3)."""
    sizes = np.array([len(loop) for loop in loops])
    start = np.array([p for loop in loops for p in loop], np.int64)
    end = np.array([p for loop in loops for p in (*loop[1:], loop[0])], np.int64)
    first = np.append(0, np.cumsum(sizes)[:-1])
    at = points[start[first]].repeat(sizes, axis=0)
    return np.asarray(np.add.reduceat(np.cross(points[start] - at, points[end] - at), first), np.float64)


def _flats(mesh: _Mesh, owner: Corners, loops: dict[int, list[Loop]]) -> Flats:
    best = _largest(owner, mesh.size)
    if (mesh.size[best] <= 0.0).any():
        raise KernelError("mesh", "a face has no area")
    kept = _needed(mesh.points, [loop for found in loops.values() for loop in found])
    faces = []
    for face in sorted(loops):
        normal = mesh.unit[best[face]]
        found = [[p for p in loop if kept[p]] for loop in loops[face]]
        if len(found) > 1:
            outer = int(np.argmax(_areas(mesh.points, found) @ normal))
            found.insert(0, found.pop(outer))
        faces.append(Flat(int(mesh.piece.skin[best[face]]), normal, tuple(found)))
    return Flats(mesh.points, _deviation(mesh, best[owner]), tuple(faces))


def _deviation(mesh: _Mesh, plane: Corners) -> Points:
    """How far each point lies off the planes of the faces round it (mm)."""
    at = mesh.points[mesh.corners] - mesh.points[mesh.corners[plane, 0]][:, None]
    off = np.abs(np.einsum("ijk,ik->ij", at, mesh.unit[plane]))
    found = np.zeros(len(mesh.points))
    np.maximum.at(found, mesh.corners.reshape(-1), off.reshape(-1))
    return found


def _needed(points: Points, loops: list[Loop]) -> NDArray[np.bool_]:
    """Which points the loops need: not those that lie between two others on one straight edge."""
    start = np.array([p for loop in loops for p in loop], np.int64)
    end = np.array([p for loop in loops for p in (*loop[1:], loop[0])], np.int64)
    edges = np.unique(np.sort(np.column_stack([start, end]), axis=1), axis=0)
    both = np.concatenate([edges, edges[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    first = np.flatnonzero(np.diff(both[:, 0], prepend=-1))
    two = first[np.diff(np.append(first, len(both))) == 2]
    middle, one, other = both[two, 0], both[two, 1], both[two + 1, 1]
    along, to = points[other] - points[one], points[middle] - points[one]
    span = np.linalg.norm(along, axis=1)
    off = np.linalg.norm(np.cross(along, to), axis=1) / np.maximum(span, 1e-300)
    share = np.einsum("ij,ij->i", along, to) / np.maximum(span * span, 1e-300)
    kept = np.ones(len(points), np.bool_)
    kept[middle[(off <= STRAIGHT) & (share > 0) & (share < 1)]] = False
    while short := [loop for loop in loops if sum(kept[loop]) < 3 and not kept[loop].all()]:
        for loop in short:
            kept[loop] = True
    return kept
