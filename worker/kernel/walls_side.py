"""A face as one side of a wall, and the wall itself."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

from OCP.TopoDS import TopoDS_Face

from schemas.base import Box, Vec3
from worker.kernel import measure
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.shape import Body, faces

PARALLEL = 1 - 1e-6
"""Cosine from which two directions count as parallel (0.08 degrees)."""


@dataclass(frozen=True)
class Wall:
    """Metal of ``thickness`` mm around the point ``at``, measured along ``normal``; ``area`` mm2 of it (0: a line)."""

    thickness: float
    at: Vec3
    area: float
    normal: Vec3


@dataclass(frozen=True, eq=False)
class Side:
    """A face and its carrier; its box when it is asked for."""

    shape: TopoDS_Face
    surface: Surface

    @cached_property
    def box(self) -> Box:
        """The smallest box round the face."""
        return measure.box_of(self.shape)


@lru_cache(maxsize=256)
def sides_of(body: Body) -> tuple[Side, ...]:
    """All faces in kernel order. Kept for each body."""
    return tuple(Side(face, surface_of(face)[0]) for face in faces(body))


def close(a: Box, b: Box, gap: float) -> bool:
    """Whether two boxes come within ``gap`` of each other."""
    return all(p <= q + gap and r <= s + gap for p, q, r, s in zip(a.min, b.max, b.min, a.max, strict=True))


def shared(one: Side, other: Side, axis: Vec3) -> tuple[float, float] | None:
    """The heights along ``axis`` that two faces have in common; None where they have none."""
    spans = [_span(side.box, axis) for side in (one, other)]
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    return (low, high) if high > low else None


def _span(box: Box, axis: Vec3) -> tuple[float, float]:
    """Extent of a box along a direction (exact for the directions of its edges)."""
    ends = [sorted((box.min[i] * axis[i], box.max[i] * axis[i])) for i in range(3)]
    return sum(e[0] for e in ends), sum(e[1] for e in ends)
