"""Exact distances between a tool's path and what stands above a height: they decide where a grid cannot (mm)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from schemas.base import Frame
from schemas.tolerances import COINCIDENT, LENGTH, STICKOUT
from schemas.tool import NEEDS_ANGLE, UNDERCUTTERS
from worker.kernel import boolean, measure
from worker.kernel.planar import Region, boxes_meet, disc, grow
from worker.kernel.primitives import box
from worker.kernel.shadow import Skyline
from worker.kernel.shape import is_empty
from worker.kernel.sweep import prism
from worker.reach.assembly import Section, underside
from worker.reach.find import Need, Ring, need
from worker.reach.raster import Mask
from worker.reach.taper import cone_need
from worker.stage.model import Cut, Plunge, Stage

MOST_HEIGHTS = 12
"""Heights at which one section is measured exactly; what is still open then is told on the safe side."""
POINT = 2e-3
"""Radius of the disc that stands for an axis, or for the line that a cutter as wide as its slot follows."""
STEP = STICKOUT / 2


Among = Literal["all", "stock", "holding"]
"""What is asked about: stock and part, the workholding, or both."""


class Surroundings:
    """Exact shadows of what stands after one step, from the setup's axis."""

    def __init__(self, stage: Stage, number: int) -> None:
        self._frame = stage.frame
        self._stock = Skyline(stage.stock_before(number + 1), stage.frame)
        self._holding = [Skyline(b.body, stage.frame) for b in stage.holding.bodies if not is_empty(b.body)]

    def gap(self, path: Region, z: float, limit: float, among: Among = "all") -> float:
        """Distance from a path to the metal above height z (setup's frame); +inf beyond ``limit``."""
        stock = [] if among == "holding" else [self._stock]
        return self._nearest(path, [*stock, *([] if among == "stock" else self._holding)], z, limit)

    def past(self, tip: float, z: float, limit: float) -> float:
        """Distance from the stock above height ``tip`` to the workholding above height z; +inf beyond ``limit``.

        Less the cutter's radius no axis beside that stock comes nearer to the workholding.
        """
        stock = self._stock.above(tip + LENGTH)
        return self._nearest(stock, self._holding, z, limit) if stock else 0.0

    def _nearest(self, path: Region, skylines: Sequence[Skyline], z: float, limit: float) -> float:
        found = np.inf
        for skyline in skylines:
            shadow = skyline.above(z)
            if shadow and boxes_meet(shadow.bounds, path.bounds, limit):
                found = min(found, _between(path, shadow, self._frame))
        return float(found)


def _between(a: Region, b: Region, frame: Frame) -> float:
    return measure.distance(prism(a, frame, 0.0, 1.0), prism(b, frame, 0.0, 1.0)).distance


def path_of_plunge(frame: Frame, plunge: Plunge) -> tuple[Region, float]:
    """The axis as a tiny disc, and its radius."""
    x, y, _ = frame.to_local(plunge.centre)
    return disc((x, y), POINT), POINT


def path_of_level(frame: Frame, cut: Cut, tip: float) -> tuple[Region, float]:
    """What the tool sweeps at a height of its tip, and how far its border is from the axis."""
    low, high = measure.bounding_box(cut.swept, frame).min, measure.bounding_box(cut.swept, frame).max
    top = tip + cut.tool.corner_radius + LENGTH
    swept = cut.swept
    if top > low[2]:  # a flank may stand off all of what it sweeps
        slab = box((low[0] - 1, low[1] - 1, low[2] - 1), (high[0] + 1, high[1] + 1, top), frame)
        swept = boolean.common(swept, [slab])
    foot = Skyline(swept, frame).above(low[2] - 1) or Skyline(cut.swept, frame).above(low[2] - 1)
    radius = cut.tool.radius
    if cut.tool.type in UNDERCUTTERS:
        return grow(foot, POINT - radius), POINT
    if cut.tool.type in NEEDS_ANGLE:  # its flank stands on the foot, its axis no farther off than its point is wide
        return foot, -(cut.tool.tip_diameter or 0.0) / 2
    return foot, radius


Gauge = Callable[[float, float], float]
"""Distance from the tool's axis to the metal above a height of the setup's frame; +inf beyond the given limit."""


@dataclass(frozen=True)
class Gauges:
    """Exact distances of an axis from the walls of its own foot, and at least how far workholding aside of it is."""

    wall: Gauge
    aside: Gauge


def settled(ring: Ring, section: Section, gauges: Gauges) -> tuple[Need, bool]:
    """The need of a section, told to STICKOUT by exact distances where the grid leaves it open; True if they did.

    Takes the tallest open columns, measures how near anything that tall comes to the axis, and so on downwards.
    A distance equal to the section's radius is no contact.
    """
    found, tries = need(ring, section), 0
    if section.top > section.bottom and found.high > found.low + COINCIDENT:
        return cone_need(found, ring, section, _nearer(ring, section, gauges)), True
    best = found.low
    while found.high - max(best, found.low) > STICKOUT and tries < MOST_HEIGHTS:
        rise = float(ring.rise[_open(ring, section, max(best, found.low))].max())
        told, least = _measured(ring, section, rise, gauges)
        tries += 1
        if told is ring:
            break
        best, ring = max(best, least), told
        found = need(ring, section)
    asked = tries > 0 or _is_crest(ring, section, found.high)
    if asked and np.isfinite(found.high):
        found = _up_the_slope(found, section, gauges.wall)
    return found, asked


def _nearer(ring: Ring, section: Section, gauges: Gauges) -> Callable[[float], float]:
    """The exact distance from the walls, and where bodies stand aside of them at least how far those are."""
    aside = bool(ring.aside.any())

    def away(z: float) -> float:
        wall = gauges.wall(z, section.radius)
        return min(wall, gauges.aside(z, section.radius)) if aside else wall

    return away


def _measured(ring: Ring, section: Section, rise: float, gauges: Gauges) -> tuple[Ring, float]:
    """The ring with the exact distance of what is as tall as ``rise``, and the need that is certain from it.

    The same ring when nothing more can be told. Aside of the foot only a least distance is known.
    """
    tall, z, certain, told = ring.rise >= rise - STEP, ring.tip + rise - STEP, -np.inf, ring
    if (tall & ~ring.aside).any():
        away = gauges.wall(z, section.radius) + LENGTH
        certain = rise - float(underside(section, np.array([away]))[0])
        told = _told(told, tall & ~ring.aside, away)
    if (tall & ring.aside).any():
        told = _told(told, tall & ring.aside, gauges.aside(z, section.radius) + LENGTH)
    return (told if np.any(told.near > ring.near) else ring), certain


def _told(ring: Ring, which: Mask, away: float) -> Ring:
    """The ring, knowing that nothing of these columns comes nearer than ``away``."""
    near = np.where(which, np.maximum(ring.near, away), ring.near)
    return replace(ring, near=near, far=np.maximum(ring.far, near))


def _is_crest(ring: Ring, section: Section, high: float) -> bool:
    """Whether nothing level decides: no four columns of a square that all ask for as much. Between the columns of a
    ridge or peak, as of a jaw in a tilted setup, it stands higher than any of them."""
    if not np.isfinite(high):
        return False
    worst = np.flatnonzero(ring.rise - underside(section, ring.near) >= high - COINCIDENT)
    rows, columns = ring.rows[worst], ring.columns[worst]
    width = int(columns.max()) + 2  # one more than there are, so that no row's end meets the next row's begin
    places = np.zeros((int(rows.max()) + 2) * width, np.bool_)
    at = rows * width + columns
    places[at] = True
    return not (places[at + 1] & places[at + width] & places[at + width + 1]).any()


def _up_the_slope(found: Need, section: Section, gauge: Gauge) -> Need:
    """A cylinder meets a slope between two columns: whatever is taller stands farther off, so halving finds where."""

    def meets(rise: float) -> bool:
        return gauge(found.tip + rise, section.radius) + LENGTH < section.radius

    low, span = found.high + section.low + STEP, STEP
    if not meets(low):
        return found
    while meets(low + span):
        low, span = low + span, 2 * span
    while span > STEP:
        span /= 2
        low += span if meets(low + span) else 0.0
    return replace(found, low=low - section.low, high=low + span - section.low)


def _open(ring: Ring, section: Section, low: float) -> Mask:
    """The columns that could still ask for more than ``low``."""
    return np.asarray(ring.rise - underside(section, ring.near) > low + COINCIDENT)
