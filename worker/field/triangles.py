"""Triangles of bodies as the field looks at them: in the part's frame, or in that of a tilted setup (mm)."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from schemas.base import Box, Frame
from schemas.feature import Feature
from worker.field.lines import Floats
from worker.kernel import measure
from worker.kernel.mesh import Triangles as Corners
from worker.kernel.mesh import Vertices, triangulate
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.stage.model import Cut, Stage

CHORD = 0.01
"""Deflection (mm) of the part's triangles."""
KEPT = 4
"""Meshes that are kept: those of large parts at fine chords take some hundred megabytes."""
EVEN = 9
"""Decimals (mm) of turned corners: what is level in the setup is level to the last bit."""

FULL = 1e-9
"""Share of a box's volume by which a body that fills it may be off: what volumes are known to."""
HALVES = np.array((((0, 0), (1, 0), (1, 1)), ((0, 0), (1, 1), (0, 1))), dtype=bool)
"""The two triangles of a square, counter-clockwise."""


class Triangles:
    """Triangles of bodies with the face of each; each body once. ``frame``: the one they are told in, if any other;
    ``part``: the body whose faces are asked for by their numbers."""

    def __init__(self, frame: Frame | None = None, part: Body | None = None) -> None:
        self._frame, self._part = frame, part
        self._known: dict[Body, tuple[Floats, NDArray[np.int32]]] = {}

    def both(self, body: Body, chord: float = CHORD) -> tuple[Floats, NDArray[np.int32]]:
        """Triangles (n, 3, 3) and owners (n,)."""
        if body not in self._known:
            self._known[body] = self.anew(body, chord)
        return self._known[body]

    def anew(self, body: Body, chord: float) -> tuple[Floats, NDArray[np.int32]]:
        """The same without a look at what is known; a block along the axes needs no mesh, but has its faces in an
        order of its own."""
        block = None if self._frame or body is self._part else _block(body)
        if block is not None:
            return block
        points, corners, owner = _meshed(body, chord)
        return self._told(points)[corners] if len(corners) else np.zeros((0, 3, 3)), owner

    def of(self, body: Body) -> Floats:
        """Triangles (n, 3, 3)."""
        return self.both(body)[0]

    def box(self, body: Body) -> Box:
        """The box round a body."""
        return measure.bounding_box(body, self._frame) if self._frame else measure.bounding_box(body)

    def _told(self, points: Floats) -> Floats:
        if self._frame is None:
            return points
        axes = np.array([self._frame.x, self._frame.y, self._frame.z])
        return np.asarray(np.round((points - np.array(self._frame.location)) @ axes.T, EVEN), dtype=np.float64)


@lru_cache(maxsize=KEPT)
def _meshed(body: Body, chord: float) -> tuple[Vertices, Corners, Corners]:
    """A body's triangles, kept: what a tilted setup leaves is looked at along the part's axes and along its own, and
    once more by the next setup."""
    return triangulate(body, chord, swift=True)


def _block(body: Body) -> tuple[Floats, NDArray[np.int32]] | None:
    """The triangles of a body that fills its box; None for any other."""
    if is_empty(body):
        return None
    box = measure.bounding_box(body)
    low, high = np.array(box.min), np.array(box.max)
    full = float(np.prod(high - low))
    if abs(measure.volume(body) - full) > FULL * full:
        return None
    ends = np.zeros((6, 2, 3, 3), bool)  # which end of the box each corner of a face's triangles has along each axis
    for face, (axis, end) in enumerate(product(range(3), (False, True))):
        ends[face][..., axis] = end
        ends[face][..., [(axis + 1) % 3, (axis + 2) % 3]] = HALVES if end else HALVES[:, ::-1]
    return np.where(ends.reshape(-1, 3, 3), high, low), np.repeat(np.arange(6, dtype=np.int32), 2)


def upright(part: Part, stage: Stage) -> tuple[Part, Stage]:
    """Part and setup as the setup's own frame has them: places and directions turned, bodies as they are."""
    frame = stage.frame
    cuts = tuple(_upright(cut, frame) for cut in stage.cuts)
    turned = replace(part, features=tuple(_turned(f, frame) for f in part.features))
    return turned, replace(stage, frame=Frame(), cuts=cuts)


def _upright(cut: Cut, frame: Frame) -> Cut:
    plunges = tuple(replace(p, centre=frame.to_local(p.centre)) for p in cut.plunges)
    return replace(cut, features=tuple(_turned(f, frame) for f in cut.features), plunges=plunges)


def _turned(feature: Feature, frame: Frame) -> Feature:
    place = feature.placement
    placement = Frame(
        location=frame.to_local(place.location),
        axis=frame.direction_to_local(place.z),
        ref_direction=frame.direction_to_local(place.x),
    )
    access = tuple(frame.direction_to_local(d) for d in feature.access)
    return feature.model_copy(update={"placement": placement, "access": access})
