"""Triangles of the bodies that page and sheet show. Part's frame, mm; plain bytes, so that equal means equal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import numpy.typing as npt

BodyKind = Literal["as_is", "to_be", "removal", "workholding"]


@dataclass(frozen=True)
class Mesh:
    """``vertices``: float32, little-endian, x y z in a row; ``triangles``: uint32, three vertex numbers each.

    ``faces``: uint32, one a triangle, the number of the B-rep face it lies on (empty where nobody asks for faces).
    """

    vertices: bytes
    triangles: bytes
    faces: bytes = b""

    @property
    def vertex_count(self) -> int:
        """Number of vertices."""
        return len(self.vertices) // 12

    @property
    def triangle_count(self) -> int:
        """Number of triangles."""
        return len(self.triangles) // 12


@dataclass(frozen=True)
class MeshBody:
    """One body of a stage. ``role`` is the workholding's, ``step`` the workingstep that removes it."""

    kind: BodyKind
    mesh: Mesh
    name: str = ""
    role: str = ""
    step: str = ""


@dataclass(frozen=True)
class StageMesh:
    """The bodies of one setup, in the order they are listed."""

    setup: str
    bodies: tuple[MeshBody, ...]

    def of(self, *kinds: BodyKind) -> tuple[MeshBody, ...]:
        """The bodies of these kinds."""
        return tuple(body for body in self.bodies if body.kind in kinds)


def mesh(vertices: npt.ArrayLike, triangles: npt.ArrayLike, faces: npt.ArrayLike | None = None) -> Mesh:
    """A Mesh of arrays: N x 3 coordinates, M x 3 vertex numbers, M face numbers."""
    import numpy as np

    def packed(values: Any, kind: str) -> bytes:
        return np.ascontiguousarray(np.asarray(values), dtype=kind).tobytes()

    return Mesh(packed(vertices, "<f4"), packed(triangles, "<u4"), b"" if faces is None else packed(faces, "<u4"))
