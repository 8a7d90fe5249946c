"""Reach of a round corner over faces without a hollow: its tip stands lower than the place that it touches (mm).

Height maps of what is swept do not tell where its axis runs: it stands beside a face that falls off, past the face's
edge, and r (1 - n) lower than that, n the height of the unit normal there. The places are ``Cut.rides``, exact on the
faces' borders; the cutter itself clears the part there, or the face would not be followed.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property

import numpy as np

from worker.kernel.shadow import Skyline
from worker.kernel.shape import is_empty
from worker.reach.assembly import Section, sections, stick_out, thicker_than
from worker.reach.axis import AxisStep
from worker.reach.model import Contact, Reach
from worker.reach.raster import Floats
from worker.stage.removal.foot import spacing

CLEAR = 0.1
"""Room (mm) for chords and rounding where metal is looked for."""


class RideStep(AxisStep):
    """The rides of one cut with what stands round it once it is done."""

    @property
    def points(self) -> Floats:
        """Places of the axis at which the cutter may meet metal."""
        return self._cutting[:, :2]

    @property
    def tips(self) -> Floats:
        """Height of the tip at each of them."""
        return self._cutting[:, 2]

    @cached_property
    def _cutting(self) -> Floats:
        """The rides with metal that the step takes within the cutter's radius, and as much farther off as those lie
        apart that stand for their neighbours: where a face is finished already nobody need go."""
        rides, removal = self.cut.rides, self.cut.removal
        if is_empty(removal) or not len(rides):
            return rides[:0]
        taken = Skyline(removal, self.frame)
        low = min(shown.low for shown in taken.shown)
        near = taken.above(low - CLEAR).signed_distance(rides[:, :2])
        return np.asarray(rides[near > -(self.tool.radius + math.sqrt(2.0) * spacing(rides, self.tool) + CLEAR)])

    @cached_property
    def _sections(self) -> tuple[Section, ...]:
        """What is no thicker than the cutter runs where that ran."""
        return thicker_than(sections(self.tool), self.tool.radius)

    def added_to(self, found: Reach) -> Reach:
        """What reach found of the step's other places, or what these ask for where that is more."""
        if not len(self.tips) or not self._sections:
            return found
        holder = self._lift("holder")
        held = (self._contact("neck", self._lift("neck", True)), self._contact("shank", self._lift("shank", True)))
        own = stick_out(self.tool, holder.by)
        slimmest = self._slimmest(self.tool.stickout) if self.tool.holder else None
        return replace(
            found,
            clearing=_most(found.clearing, own["clearing"]),
            least_stickout=_most(found.least_stickout, own["least_stickout"]),
            stickout_margin=_least(found.stickout_margin, own["stickout_margin"]),
            holder=_worse(found.holder, self._contact("holder", holder)),
            shank=_worse(found.shank, self._contact("shank", self._lift("shank", False))),
            neck=_worse(found.neck, self._contact("neck", self._lift("neck", False))),
            in_holding=_worse(found.in_holding, *held),
            slimmest_holder=_least(found.slimmest_holder, slimmest),
            largest_shank=_least(found.largest_shank, self._slimmest(self.tool.usable_length)),
        )


def _most(*some: float | None) -> float | None:
    return max((one for one in some if one is not None), default=None)


def _least(*some: float | None) -> float | None:
    return min((one for one in some if one is not None), default=None)


def _worse(*some: Contact | None) -> Contact | None:
    return max((one for one in some if one is not None), key=lambda c: c.depth, default=None)
