"""How far a field's volume can be off: from the cell size and the round and slanted faces it has to show (mm).

A line that meets a face at an angle measures it to the second order of the cell. Two cases are worse:

* Lines along a round wall see its outline as a staircase. Each border cell counts whole or not at all, an error
  that is uniform within half a cell either way: ``h^2 / sqrt(12)`` for each of the ``p / h`` cells of an outline of
  length p; on a round wall doubled, because the four quarters of a hole on the lattice are alike.
* Lines across a round wall touch it where it turns. The middle of a cell stands there for a square root; over a
  border at the turn the sum exceeds the integral by ``-zeta(-1/2, 1/2) h^1.5 sqrt(d) = 0.0609 h^1.5 sqrt(d)`` at each
  of four ends (Euler-Maclaurin). Finer cells at the turn (``TURNS``) more than halve that.

A flat face is measured exactly but for its border, where lines change slope within a cell: an error of up to
``h^2 / 8`` for each mm of the border of a face that is square to no axis (those of others lie on cell borders).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from worker.field.lines import Floats

TURNS = (0.125, 0.5)
"""Extra cell borders inside the turn of a round face, in cells."""
TURN = 4 * 0.0609 / 2
STAIR = 1 / np.sqrt(12.0)
SQUARE = 0.02
"""A face all of whose normals have less than this along an axis runs along it."""
FLAT = 1e-6
ROUNDING = 1e-7
"""Share of the volume that sums of floating-point intervals may be off by."""


@dataclass(frozen=True)
class Round:
    """A face that is no plane of the lattice: box, area, longest extent, axes it runs along, whether flat, number."""

    low: Floats
    high: Floats
    area: float
    length: float
    along: tuple[bool, bool, bool]
    flat: bool
    index: int

    @property
    def outline(self) -> float:
        """Length of its cross-section."""
        return self.area / self.length


@dataclass(frozen=True)
class Facts:
    """Where the planes of a body lie on each axis, and its other faces."""

    planes: tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]
    rounds: tuple[Round, ...]


def facts_of(triangles: Floats, owner: NDArray[np.int32]) -> Facts:
    """The facts of a body given by its triangles (n, 3, 3) and the face of each."""
    planes: tuple[list[float], list[float], list[float]] = ([], [], [])
    if not len(owner):
        return Facts(((), (), ()), ())
    order = np.argsort(owner, kind="stable")
    triangles, (faces, starts) = triangles[order], np.unique(owner[order], return_index=True)
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(normal, axis=1)
    square = np.logical_and.reduceat(np.abs(normal) >= size[:, None] * (1 - FLAT), starts)
    first = triangles[starts, 0].tolist()
    for face, axis in zip(*(found.tolist() for found in np.nonzero(square)), strict=True):
        planes[axis].append(first[face][axis])
    x, y, z = (tuple(sorted(p)) for p in planes)
    rounds = _rounds(triangles, normal, size, faces, starts, np.flatnonzero(~square.any(axis=1)).tolist())
    return Facts((x, y, z), tuple(rounds))


def _rounds(
    triangles: Floats,
    normal: Floats,
    size: Floats,
    faces: NDArray[np.int32],
    starts: NDArray[np.int64],
    which: Sequence[int],
) -> Iterator[Round]:
    """Those ``which`` of the faces that are no planes; the triangles of each begin at ``starts``."""
    low = np.minimum.reduceat(triangles.min(axis=1), starts)
    high = np.maximum.reduceat(triangles.max(axis=1), starts)
    along = np.logical_and.reduceat(np.abs(normal) <= SQUARE * size[:, None], starts)
    area = np.add.reduceat(size, starts) / 2
    unit, told = normal / np.maximum(size, 1e-300)[:, None], (size > FLAT)[:, None]
    least = np.minimum.reduceat(np.where(told, unit, np.inf), starts)
    most = np.maximum.reduceat(np.where(told, unit, -np.inf), starts)
    flat = (most - least).max(axis=1) < FLAT
    no_axis = np.logical_not(along.any(axis=1, keepdims=True))
    longest = np.where(along | no_axis, high - low, 0.0).max(axis=1)
    for k in which:
        x, y, z = along[k].tolist()
        extent = max(float(longest[k]), 1e-6)
        yield Round(low[k], high[k], float(area[k]), extent, (x, y, z), bool(flat[k]), int(faces[k]))


def by_face(owner: NDArray[np.int32]) -> Iterator[tuple[int, NDArray[np.int64]]]:
    """Each face that has triangles, and their numbers, in order: looked up once for all faces."""
    order = np.argsort(owner, kind="stable")
    faces, starts = np.unique(owner[order], return_index=True)
    yield from zip(faces.tolist(), np.split(order, starts[1:]), strict=False)  # of nothing there is one empty piece


def stops(facts: Sequence[Facts], h: float) -> tuple[list[float], list[float], list[float]]:
    """Coordinates where cell borders belong: planes, the ends of round faces and the finer cells there."""
    found: tuple[list[float], list[float], list[float]] = ([], [], [])
    for fact in facts:
        for axis in range(3):
            found[axis].extend(fact.planes[axis])
            for face in fact.rounds:
                finer = () if face.flat else TURNS
                for end, inward in ((face.low[axis], 1.0), (face.high[axis], -1.0)):
                    found[axis].extend(float(end + inward * t * h) for t in (0.0, *finer))
    return found


def error_along(rounds: Sequence[Round], axis: int, h: float) -> float:
    """Largest error (mm3) to expect of the lines along an axis: stairs add up at random, turns one by one."""
    stairs = sum((_alike(f) * STAIR * h**1.5 * np.sqrt(f.outline) * f.length) ** 2 for f in rounds if f.along[axis])
    turns = sum(TURN * h**1.5 * np.sqrt(f.outline / np.pi) * f.length for f in rounds if not (f.along[axis] or f.flat))
    kinks = sum(h * h / 8 * 2 * (f.length + f.outline) for f in rounds if f.flat and not any(f.along))
    return float(3 * np.sqrt(stairs) + turns + kinks)


def _alike(face: Round) -> float:
    return 1.0 if face.flat else 2.0


def chord_error(rounds: Sequence[Round], deflection: float, exact: Collection[int] = ()) -> float:
    """What chords cut off round faces but the ``exact`` ones: two thirds of the deflection over their area, mm3."""
    return 2 / 3 * deflection * sum(f.area for f in rounds if not (f.flat or f.index in exact))


def best_axis(rounds: Sequence[Round], h: float) -> tuple[int, float]:
    """The axis whose lines see the round faces best, and the largest error to expect of them."""
    errors = [error_along(rounds, axis, h) for axis in range(3)]
    axis = int(np.argmin(errors))
    return axis, errors[axis]
