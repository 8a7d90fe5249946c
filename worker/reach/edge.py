"""Reach of a pointed cutter along chamfers: its flank on the chamfer, everything above it against exact distances (mm).

No foot that it sweeps tells where its axis runs: the chamfer's lower edge does, and the height of the tip.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel.shadow import Skyline
from worker.part import Part
from worker.reach.assembly import stick_out, usable
from worker.reach.axis import AxisStep, Lift
from worker.reach.beside import highest_within
from worker.reach.model import Block, Contact, Reach
from worker.reach.raster import Floats
from worker.stage.model import Cut, Stage
from worker.stage.removal.edges import (
    TOUCH,
    axis_off,
    axis_points,
    axis_tips,
    flank_of_tool,
    tip_for,
    widest,
    worst,
)
from worker.stage.removal.rims import Rim, each_as_deep, has_all_rims, rims_of
from worker.stage.removal.slants import Flank

BESIDE = 0.4
"""Metal this near to the chamfer's upper edge (mm) is the wall beside it."""


def runs_along_edges(stage: Stage, cut: Cut, part: Part) -> bool:
    """Whether the step is a pointed tool's along chamfers of which each has a lower edge that it can follow."""
    flank = flank_of_tool(cut.tool)
    if cut.plunges or flank is None or not any(f.class_ == "chamfer" for f in cut.features):
        return False
    asked = (Skyline(part.body, stage.frame), stage.frame, cut.features, flank.rise)
    return has_all_rims(*asked) and bool(rims_of(*asked))


class EdgeStep(AxisStep):
    """One cut along chamfers with what stands round it once it is done."""

    def __init__(self, stage: Stage, number: int, part: Part) -> None:
        super().__init__(stage, number, part)
        flank = flank_of_tool(self.tool)
        assert flank is not None  # the caller asked
        self.flank: Flank = flank

    @cached_property
    def rims(self) -> list[Rim]:
        """The chamfers' lower edges."""
        tips = dict(self.cut.tips)
        return [rim for f in self.cut.features for rim in self._rims_of(f, tips.get(f.id, self._tip) - self._tip)]

    def _rims_of(self, feature: Feature, base: float) -> list[Rim]:
        found = rims_of(self._part, self.frame, [feature], self.flank.rise)
        return [replace(rim, base=rim.base + base) for rim in each_as_deep(found, self.cut.step.bottom_z)]

    @cached_property
    def points(self) -> Floats:
        """The axis's path."""
        return axis_points(self.flank, self.rims, self.cut.tip_z)

    @cached_property
    def tips(self) -> Floats:
        """Height of the tip at each of them."""
        return axis_tips(self.rims, self._tip)

    @property
    def _tip(self) -> float:
        return self.cut.tip_z

    def reach(self) -> Reach:
        """The result; see the model."""
        holder = self._lift("holder")
        stated, deepest, cutter = bool(self.tool.holder), self._beside(), self._flank_contact()
        held = (self._contact("neck", self._lift("neck", True)), self._contact("shank", self._lift("shank", True)))
        return Reach(
            step=self.cut.step.id,
            tool=self.tool.id,
            **stick_out(self.tool, holder.by),
            holder=self._contact("holder", holder),
            shank=self._contact("shank", self._lift("shank", False)),
            neck=self._contact("neck", self._lift("neck", False)),
            in_holding=max((c for c in held if c is not None), key=lambda c: c.depth, default=None),
            depth=deepest.by if deepest.body else 0.0,
            usable=usable(self.tool),
            deepest=self._place(deepest) if deepest.body else None,
            beside=deepest.body if deepest.by > usable(self.tool) else "",
            slimmest_holder=self._slimmest(self.tool.stickout) if stated else None,
            largest_shank=self._slimmest(self.tool.usable_length),
            blocks=tuple(self._blocks()),
            cutter=cutter,
            widest_cutter=self._widest if cutter is not None else None,
            clear_tip=self._clear_tip if cutter is not None and self.cut.step.bottom_z is not None else None,
            flank=max((rim.high - rim.base - self._tip for rim in self.rims), default=0.0),
            exact=True,
        )

    def _flank_contact(self) -> Contact | None:
        """Where the cutter itself meets metal; what a stated depth takes of the part is a gouge.

        The flank may cut stock; what stands higher than the flank would rub on the body above it.
        """
        for name, skies in self._metal.items():
            above = LENGTH if name == "part" else self.flank.height + LENGTH
            hit = worst(self.flank, self.rims, self._tip, skies, above)
            if hit.over > TOUCH and not (name == "part" and self.cut.gouge is not None):
                away = float(self.flank.at(hit.top - hit.tip)) - hit.over
                sunk = hit.top - hit.tip - max(away - self.flank.blunt, 0.0) / self.flank.rise
                return Contact("cutter", sunk, self._place(Lift(sunk, hit.at, hit.top)), name)
            if hit.over > TOUCH:
                return None
        return None

    def _blocks(self) -> Iterator[Block]:
        for name, skies in self._held.items():
            hit = worst(self.flank, self.rims, self._tip, skies)
            if hit.over > TOUCH:
                yield Block(name, self._place(Lift(0.0, hit.at, hit.top)), self._widest)

    @cached_property
    def _widest(self) -> float | None:
        """Diameter of the largest cutter with this point that clears all; None when none does."""
        skies = self._skies
        found = widest(self.flank, self.rims, skies, self.cut.step.bottom_z)
        return None if found is None else 2 * found

    @property
    def _skies(self) -> list[Skyline]:
        return [sky for each in (*self._metal.values(), *self._held.values()) for sky in each]

    @property
    def _clear_tip(self) -> float | None:
        """The highest tip from which the cutter takes the chamfers and clears all; None where there is none."""
        tip = tip_for(self.flank, self.rims, self._skies)
        return tip if worst(self.flank, self.rims, tip, self._skies).over <= LENGTH else None

    def _beside(self) -> Lift:
        """The highest metal that stands right at the chamfer's upper edge."""
        near = np.concatenate([axis_off(self.flank, r, self._tip) + r.width + BESIDE for r in self.rims])
        found = Lift(-np.inf)
        for name, faces in self._beside_it.items():
            for one in sorted(faces, key=lambda face: -round(face.shown.high, 6)):  # equals in their order
                if one.shown.high - float(self.tips.min()) <= found.by + COINCIDENT:
                    break
                rise = highest_within(one, near)
                if rise.by > found.by + COINCIDENT:
                    found = Lift(rise.by, self._point(rise.number), rise.top, name)
        return found
