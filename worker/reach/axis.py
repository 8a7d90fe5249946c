"""A tool whose axis runs along known places, against exact distances (mm)."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from schemas.base import Vec3
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.reach.assembly import Kind, Section, sections
from worker.reach.beside import Beside, nearest_above
from worker.reach.model import Contact
from worker.reach.raster import Floats
from worker.stage.model import Stage
from worker.stage.removal.edges import near_faces


@dataclass(frozen=True)
class Lift:
    """How much a section would have to be higher, the axis point and the top of what it meets, and whose that is."""

    by: float
    at: tuple[float, float] = (0.0, 0.0)
    top: float = 0.0
    body: str = ""


def _stock(stage: Stage, i: int) -> tuple[Body, ...]:
    """The metal of ``stock_before(i)`` in pieces, also where round faces are flats: what stays and what goes later.

    Nothing is cut for it, which takes seconds where it goes by meshes; the pieces are as exact as their stocks.
    """
    if not all(stage.standing(k).known for k in range(i, len(stage.cuts) + 1)):
        return stage.metal_before(i)
    later = (cut.removal for cut in stage.cuts[i:])
    return tuple(body for body in (stage.to_be, *stage.loose, *later) if not is_empty(body))


class AxisStep(ABC):
    """One cut whose axis runs along known points, each with its tip, and what stands round it once it is done."""

    def __init__(self, stage: Stage, number: int, part: Part) -> None:
        self.stage, self.frame = stage, stage.frame
        self.cut = stage.cuts[number]
        self.tool = self.cut.tool
        self._part = Skyline(part.body, stage.frame)
        stock = [Skyline(body, stage.frame) for body in _stock(stage, number + 1)]
        held = [(b.name, b.body) for b in stage.holding.bodies if not is_empty(b.body)]
        self._held = {name: [Skyline(body, stage.frame)] for name, body in held}
        self._metal = {"part": [self._part], "stock": stock}

    @property
    @abstractmethod
    def points(self) -> Floats:
        """Places of the axis (n, 2)."""

    @property
    @abstractmethod
    def tips(self) -> Floats:
        """Height of the tip at each of them."""

    @property
    def _sections(self) -> tuple[Section, ...]:
        return sections(self.tool)

    @cached_property
    def _beside_it(self) -> dict[str, list[Beside]]:
        """All that rises above the tip within the assembly's reach; the part before the stock, which holds it."""
        wide = max((s.radius for s in self._sections), default=0.0)
        return {
            name: [
                Beside(sky, shown, self.points, self.tips, wide)
                for sky in skies
                for shown in near_faces(sky, self.points, float(self.tips.min()) + LENGTH, wide)
            ]
            for name, skies in {**self._metal, **self._held}.items()
        }

    def _lift(self, kind: str, held: bool | None = None) -> Lift:
        """The largest need of the sections of a kind, against all metal, the workholding, or all but it."""
        own = [s for s in self._sections if s.kind == kind]
        found = Lift(-np.inf)
        for name, faces in self._beside_it.items():
            if held is None or held == (name in self._held):
                found = self._worse(found, name, faces, own)
        return found

    def _worse(self, found: Lift, name: str, faces: Sequence[Beside], own: Sequence[Section]) -> Lift:
        """The same of one body, where it is larger; faces that may ask for most are looked at first."""
        for section in own:
            for bound, one in sorted(((f.bound(section), f) for f in faces), key=lambda pair: -round(pair[0], 6)):
                if bound <= found.by + COINCIDENT:
                    break
                need = one.lift(section, found.by + COINCIDENT)
                if need.by > found.by + COINCIDENT:
                    found = Lift(need.by, self._point(need.number), need.top, name)
        return found

    def _point(self, n: int) -> tuple[float, float]:
        return float(self.points[n, 0]), float(self.points[n, 1])

    def _contact(self, kind: Kind, lift: Lift) -> Contact | None:
        return None if lift.by <= LENGTH else Contact(kind, lift.by, self._place(lift), lift.body)

    def _place(self, lift: Lift) -> Vec3:
        return self.frame.to_world((*lift.at, lift.top))

    def _slimmest(self, low: float) -> float | None:
        """Twice the largest radius that clears everything from a height above the tip up."""
        every = [one for faces in self._beside_it.values() for one in faces]
        radius = nearest_above(every, low + LENGTH)
        return None if not np.isfinite(radius) or radius <= LENGTH else 2 * radius
