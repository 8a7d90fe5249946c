"""Reach of a pointed cutter along V-grooves: all of its assembly above its passes, by exact distances (mm)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cached_property

import numpy as np

from schemas.base import Frame
from worker.kernel import measure
from worker.kernel.shape import is_empty
from worker.reach.axis import Lift
from worker.reach.beside import highest_within
from worker.reach.edge import BESIDE, EdgeStep
from worker.reach.model import Block, Contact
from worker.reach.raster import Floats
from worker.stage.model import Way

APART = 0.5
"""Places of the axis (mm) at which the assembly is looked at."""
LEAST, MOST = 9, 400
"""So many at least, and at most, on each way."""


class VeeStep(EdgeStep):
    """One cut along V-grooves with what stands round it once it is done.

    The cutter itself cuts what stands in its way there, and its ways keep clear of the part: those of a stated depth
    that do not are told by what the step sweeps.
    """

    @cached_property
    def _places(self) -> tuple[Floats, Floats]:
        each = [self._along(way) for way in self.cut.ways]
        tips = [np.full(len(points), way.tip) for points, way in zip(each, self.cut.ways, strict=True)]
        return np.concatenate(each), np.concatenate(tips)

    @property
    def points(self) -> Floats:
        """Places of the axis on all ways."""
        return self._places[0]

    @property
    def tips(self) -> Floats:
        """Height of the tip at each of them."""
        return self._places[1]

    def _along(self, way: Way) -> Floats:
        """Places on a way, as far as it has metal to cut."""
        first, last = self._needed(way)
        count = min(max(math.ceil((last - first) / APART), LEAST), MOST)
        shares = np.linspace(first, last, count) / max(way.long, 1e-9)
        return np.array([way.place(share) for share in shares.tolist()])

    def _needed(self, way: Way) -> tuple[float, float]:
        """From where to where along a way the step takes metal; all of it where it takes none, and of a bend."""
        long = way.long
        if is_empty(self.cut.removal) or long <= 0 or way.turn:
            return 0.0, long
        run = ((way.end[0] - way.start[0]) / long, (way.end[1] - way.start[1]) / long, 0.0)
        place = Frame(
            location=self.frame.to_world((*way.start, 0.0)),
            axis=self.frame.z,
            ref_direction=self.frame.direction_to_world(run),
        )
        box = measure.bounding_box(self.cut.removal, place)
        first, last = max(box.min[0], 0.0), min(box.max[0], long)
        return (first, last) if first < last else (0.0, long)

    def _flank_contact(self) -> Contact | None:
        return None

    def _blocks(self) -> Iterator[Block]:
        yield from ()

    def _beside(self) -> Lift:
        """The highest metal within the cutter's own width of its axis."""
        near = np.full(len(self.points), self.tool.radius + BESIDE)
        found = Lift(-np.inf)
        for name, faces in self._beside_it.items():
            for one in sorted(faces, key=lambda face: -round(face.shown.high, 6)):
                if one.shown.high - float(self.tips.min()) <= found.by:
                    break
                rise = highest_within(one, near)
                if rise.by > found.by:
                    found = Lift(rise.by, self._point(rise.number), rise.top, name)
        return found
