"""Workholding that the cutter itself has to enter: metal that it can take in no position clear of it (mm)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from schemas.base import Frame
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel import measure
from worker.kernel.planar import NOWHERE, Region, boxes_meet, components, open_by_disc, overlap, rectangle, subtract
from worker.kernel.shadow import Skyline
from worker.kernel.shape import is_empty
from worker.kernel.sweep import prism
from worker.reach.cover import inner_point
from worker.reach.decide import path_of_plunge
from worker.reach.distance import distance
from worker.reach.model import Block
from worker.reach.obstacles import Obstacles
from worker.reach.path import Level
from worker.reach.raster import Mask
from worker.stage.model import Cut, HoldingBody, Plunge, Stage

Window = tuple[slice, slice]
LEAST = 1e-2
"""Area (mm2) in plan below which metal that cannot be reached is a rounding."""


class Blocks:
    """One step of a stage against the workholding round it.

    ``standing`` is metal that surely stands after the step: what rises within its plan is no further obstacle.
    """

    def __init__(self, stage: Stage, number: int, around: Obstacles, standing: Sequence[Skyline]) -> None:
        self._standing = standing
        self._stage, self._number, self._around = stage, number, around
        self._frame: Frame = stage.frame
        self._cut: Cut = stage.cuts[number]

    def of_plunge(self, plunge: Plunge, own: float) -> Iterator[Block]:
        """Bodies within the tool's own radius of its axis, above the metal that it enters."""
        path, point = path_of_plunge(self._frame, plunge)
        x, y, z = self._frame.to_local(plunge.centre)
        for body in self._out_of_the_stock(*self._round(x, y, own), plunge.tip_z):
            shadow = self._shadow(body, max(plunge.full_diameter_z, self._floor))
            if shadow and boxes_meet(shadow.bounds, path.bounds, own) and self._is_over(body, z):
                gap = self._apart(path, shadow) + point
                if gap < own - LENGTH:
                    yield Block(body.name, self._frame.to_world((x, y, z)), _doubled(gap))

    def of_level(self, level: Level) -> Iterator[Block]:
        """Bodies without which the cutter, with its tip at that height, would get at more of the metal it takes."""
        everywhere = (slice(None), slice(None))
        bodies = self._out_of_the_stock(everywhere, None, level.tip) if level.radius > 0 else []
        if not bodies:
            return
        h, radius = self._around.grid.h, self._cut.tool.radius
        near = np.isfinite(distance(level.metal, h, 2 * radius + 2 * h))
        bodies = self._out_of_the_stock(everywhere, near, level.tip)
        metal = self._metal(level.tip) if bodies else NOWHERE
        if not metal:
            return
        run = self._run(metal, level.tip)
        for body in bodies:
            shadow = self._shadow(body, max(level.tip, self._floor))
            if any(overlap(part, shadow) for part in run):
                yield from self._lost(body, shadow, metal, level.tip)

    def _run(self, metal: Region, tip: float) -> list[Region]:
        """Where the cutter can at most be while it takes the metal, as far as what surely stands lets it."""
        standing = [sky.above(tip + LENGTH) for sky in self._standing]
        opened = open_by_disc(subtract(_room(metal, self._cut.tool.diameter), standing), self._cut.tool.radius)
        return [part for part in components(opened) if overlap(part, metal)]

    def _lost(self, body: HoldingBody, shadow: Region, metal: Region, tip: float) -> Iterator[Block]:
        walls = Skyline(self._stage.stock_before(self._number + 1), self._frame).above(tip + LENGTH)
        free = subtract(_room(metal, self._cut.tool.diameter), [walls])
        radius = self._cut.tool.radius
        lost = _missed(metal, free, [shadow], radius)
        if lost.area - _missed(metal, free, [], radius).area <= LEAST:
            return
        x, y = inner_point(lost)
        gap = self._apart(walls, shadow) if walls else 0.0
        passes = gap > 4 * LENGTH and _missed(metal, free, [shadow], gap / 2 - LENGTH).area <= LEAST
        yield Block(body.name, self._frame.to_world((x, y, tip)), gap if passes else None)

    def _metal(self, tip: float) -> Region:
        removal = self._cut.removal
        return NOWHERE if is_empty(removal) else Skyline(removal, self._frame).above(tip + LENGTH)

    @property
    def _floor(self) -> float:
        """What ends below the stock is met from above by coming through it: another rule's business."""
        return self._stage.holding.support_z + LENGTH

    def _out_of_the_stock(self, window: Window, near: Mask | None, tip: float) -> list[HoldingBody]:
        """The bodies that stand above the tip and out of the stock that the step finds, in some columns of a window."""
        around = self._around
        floor = np.maximum(around.before[window], max(self._floor, tip))
        seen = around.holding[window] > floor + LENGTH
        numbers = np.unique(around.holding_owner[window][seen if near is None else seen & near])
        return [self._stage.holding.bodies[int(n)] for n in numbers if n >= 0]

    def _round(self, x: float, y: float, radius: float) -> tuple[Window, Mask]:
        """The columns round a place: a window of the grid, and which of it."""
        grid = self._around.grid
        reach = radius + grid.h
        window = grid.window((x - reach, y - reach), (x + reach, y + reach))
        here = grid.part(*window)
        away = np.hypot(here.xs()[None, :] - x, here.ys()[:, None] - y)
        return window, np.asarray(away <= reach)

    def _is_over(self, body: HoldingBody, entry: float) -> bool:
        return measure.bounding_box(body.body, self._frame).max[2] > entry + LENGTH

    def _shadow(self, body: HoldingBody, z: float) -> Region:
        return Skyline(body.body, self._frame).above(z + LENGTH)

    def _apart(self, a: Region, b: Region) -> float:
        return measure.distance(prism(a, self._frame, 0.0, 1.0), prism(b, self._frame, 0.0, 1.0)).distance


def _room(metal: Region, diameter: float) -> Region:
    x0, y0, x1, y1 = metal.bounds
    margin = 2 * diameter + 1.0
    return rectangle(x0 - margin, y0 - margin, x1 + margin, y1 + margin)


def _missed(metal: Region, free: Region, held: Sequence[Region], radius: float) -> Region:
    """The metal that a disc of that radius cannot cover within what is free."""
    return subtract(metal, [open_by_disc(subtract(free, held), radius)])


def _doubled(radius: float) -> float | None:
    return 2 * radius if radius > COINCIDENT else None
