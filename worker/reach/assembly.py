"""What of a tool is wider than its path: a slanted edge, neck, shank, the sections of the holder, as rings (mm)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, TypedDict

import numpy as np

from schemas.tolerances import LENGTH
from schemas.tool import Tool
from worker.reach.raster import Floats

Kind = Literal["cutter", "neck", "shank", "holder"]
ENDLESS = 1e6
"""Top of a section that something else stands on: a shank goes on inside its holder, a holder into the spindle."""


@dataclass(frozen=True)
class Section:
    """A cylinder or cone round the axis: ``low`` above the tip, ``length`` long, radius ``bottom`` to ``top``."""

    kind: Kind
    low: float
    length: float
    bottom: float
    top: float

    @property
    def radius(self) -> float:
        """Largest radius."""
        return max(self.bottom, self.top)

    def grown(self, amount: float) -> Section:
        """The section with both radii larger by ``amount``."""
        return replace(self, bottom=self.bottom + amount, top=self.top + amount)


SLANTED = frozenset({"facemill", "shouldermill", "endmill"})
"""Cutters whose KAPR below 90 degrees lets them widen upwards from DC at the tip (ISO 13399: DC, DCX)."""


def flare(tool: Tool) -> float:
    """How much a cutter's radius grows from its tip to the top of its edge, mm: APMX / tan KAPR."""
    if tool.type not in SLANTED or tool.KAPR is None or tool.KAPR >= 90.0:
        return 0.0
    return tool.edge_length / math.tan(math.radians(tool.KAPR))


def sections(tool: Tool) -> tuple[Section, ...]:
    """A slanted edge and everything above, from below. What no wall beside the cutter's own path can touch is left out.

    A neck or shank as thick as the cutter runs in the cutter's own path: equal sizes never touch. The shank is
    taken to go on upwards, so that a longer stick-out never adds an obstacle.
    """
    edge, usable = tool.edge_length, max(tool.usable_length, tool.edge_length)
    found = [
        Section("cutter", 0.0, edge if flare(tool) else 0.0, tool.radius, tool.radius + flare(tool)),
        Section("neck", edge, usable - edge, tool.neck_diameter / 2, tool.neck_diameter / 2),
        Section("shank", usable, ENDLESS, tool.shank_diameter / 2, tool.shank_diameter / 2),
    ]
    low = tool.stickout
    for part in tool.holder:
        found.append(Section("holder", low, part.length, part.diameter / 2, part.top / 2))
        low += part.length
    return tuple(s for s in found if s.length > 0)


def width_of(tool: Tool, kind: Kind) -> float:
    """Diameter of the edge at its widest, of the neck or of the shank, mm; a holder's is told by its sections."""
    if kind == "cutter":
        return 2 * (tool.radius + flare(tool))
    return tool.neck_diameter if kind == "neck" else tool.shank_diameter


def thicker_than(found: tuple[Section, ...], radius: float) -> tuple[Section, ...]:
    """The sections that stand out beyond a radius."""
    return tuple(s for s in found if s.radius > radius + LENGTH)


def underside(section: Section, distance: Floats) -> Floats:
    """Height above the tip at which the section begins, at each distance from the axis; +inf beyond its radius."""
    lift = np.zeros_like(distance)
    if section.top > section.bottom:
        lift = np.clip((distance - section.bottom) / (section.top - section.bottom), 0.0, 1.0) * section.length
    return np.where(distance < section.radius, section.low + lift, np.inf)


def usable(tool: Tool) -> float:
    """How far below the metal beside it a tool may go, mm: LU; where nothing says what holds it, no farther than it
    stands out: whatever it is, it is no thinner than the cutter."""
    return tool.usable_length if tool.holder else min(tool.usable_length, tool.stickout)


class StickOut(TypedDict):
    """The three fields of that name in a ``Reach``; None for a tool without a holder."""

    clearing: float | None
    least_stickout: float | None
    stickout_margin: float | None


def stick_out(tool: Tool, lift: float) -> StickOut:
    """How far a tool has to stand out, mm, by how much higher its holder would have to be: negative with room to spare.

    Nothing is clamped on its flutes: a stated edge stands out of the holder, unless the plan itself states less.
    """
    if not tool.holder:
        return {"clearing": None, "least_stickout": None, "stickout_margin": None}
    edge = 0.0 if tool.LU is None and tool.APMX is None else tool.edge_length
    clearing = max(tool.stickout + lift, 0.0)
    least = max(clearing, min(edge, tool.stickout))
    return {"clearing": clearing, "least_stickout": least, "stickout_margin": tool.stickout - least}
