"""Reach of one workingstep: every section of its tool against everything round its path."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from schemas.base import Vec3
from schemas.tolerances import LENGTH
from schemas.tool import MILLS, PLUNGERS
from worker.kernel import measure
from worker.kernel.planar import Region
from worker.kernel.shadow import Skyline
from worker.part import Part
from worker.reach.assembly import Section, sections, stick_out, thicker_than, usable
from worker.reach.blocked import Blocks
from worker.reach.decide import MOST_HEIGHTS, Among, Gauges, Surroundings, path_of_level, path_of_plunge, settled
from worker.reach.find import NO_NEED, Need, Ring, least_radius, ring_of_level, ring_of_plunge, worst_of
from worker.reach.model import Block, Contact, Reach
from worker.reach.obstacles import NOBODY, Obstacles, Swept
from worker.reach.path import Level, levels
from worker.stage.model import Plunge, Stage

BESIDE = 2.0
"""In columns: metal this near to the cutter's path may be the wall beside it."""
NEXT_TO = 0.1
"""What stands farther from the path (mm) is no wall beside it: a shank past LU that is no thicker clears it."""


@dataclass(frozen=True, eq=False)
class Position:
    """One height of the tip (``level``) or one axis (``plunge``), and the metal round it."""

    ring: Ring
    own: float
    level: Level | None = None
    plunge: Plunge | None = None


class Step:
    """One cut of a stage with its obstacles; works out its reach."""

    def __init__(
        self,
        stage: Stage,
        number: int,
        part: Part,
        swept: Swept,
        around: Obstacles,
        standing: Sequence[Skyline] = (),
    ) -> None:
        self.stage, self.number, self.part, self.around = stage, number, part, around
        self.cut = stage.cuts[number]
        self.tool = self.cut.tool
        self._swept, self._standing = swept, standing
        self._paths: dict[Position, tuple[Region, float]] = {}
        self.decided = False

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """The sections that can touch anything at all."""
        return sections(self.tool)

    @cached_property
    def positions(self) -> tuple[Position, ...]:
        """Everywhere the tool must go, with the metal within the assembly's largest radius."""
        beside = self.tool.radius + 2 * BESIDE * self.around.grid.h  # the wall beside the cut is wanted in any case
        radius = max(beside, *(s.radius for s in self.sections))
        return tuple(self._plunges(radius) if self._on_axis else self._levels(radius))

    @property
    def _on_axis(self) -> bool:
        return bool(self.cut.plunges) and self.tool.type in PLUNGERS

    def _plunges(self, radius: float) -> Iterator[Position]:
        for plunge in self.cut.plunges:
            x, y, _ = self.stage.frame.to_local(plunge.centre)
            own = min(self.tool.radius, plunge.diameter / 2)
            yield Position(ring_of_plunge((x, y), plunge.tip_z, own, self.around, radius), own, plunge=plunge)

    def _levels(self, radius: float) -> Iterator[Position]:
        for level in levels(self.cut, self._swept, self.around):
            yield Position(ring_of_level(level, self.around, radius), level.radius, level=level)

    def reach(self) -> Reach:
        """The result; see the model."""
        holder = self._least(("holder",))
        shank, neck, held = self._least(("shank",), "stock"), self._least(("neck",), "stock"), self._in_holding()
        beside = self._beside()
        return Reach(
            step=self.cut.step.id,
            tool=self.tool.id,
            **stick_out(self.tool, holder.high if holder is not NO_NEED else -np.inf),
            holder=self._contact("holder", holder),
            shank=self._contact("shank", shank),
            neck=self._contact("neck", neck),
            in_holding=held,
            depth=beside.high,
            usable=usable(self.tool),
            deepest=self._point(beside) if beside.row >= 0 else None,
            beside=self._body(beside) if beside.row >= 0 and beside.high > usable(self.tool) else "",
            slimmest_holder=self._slimmest(self.tool.stickout) if holder.high > LENGTH else None,
            largest_shank=self._slimmest(self.tool.usable_length) if shank.high > LENGTH else None,
            blocks=tuple({block.body: block for block in self._blocks()}.values()),
            exact=self.decided,
        )

    def _blocks(self) -> Iterator[Block]:
        found = Blocks(self.stage, self.number, self.around, self._standing)
        for position in self.positions:
            if position.plunge is not None:
                yield from found.of_plunge(position.plunge, position.own)
            elif position.level is not None and self.tool.type in MILLS:
                yield from found.of_level(position.level)

    def _in_holding(self) -> Contact | None:
        """The deepest contact of a slanted edge, neck and shank with the workholding."""
        found = [self._contact(kind, self._least((kind,), "holding")) for kind in ("cutter", "neck", "shank")]
        return max((c for c in found if c is not None), key=lambda c: c.depth, default=None)

    def _least(self, kinds: tuple[str, ...], among: Among = "all") -> Need:
        """The largest need of the sections of some kinds, over all positions, against all or some of the metal."""
        found: list[Need] = []
        for section in (s for s in self.sections if s.kind in kinds):
            for position in self.positions:
                if thicker_than((section,), self._clear_radius(position)):
                    found.append(self._settled(position, section, among))
        return worst_of(found)

    def _clear_radius(self, position: Position) -> float:
        """A section no thicker than this never touches the wall: it runs where the cutter ran."""
        return 0.0 if position.own == 0.0 else max(position.own, self.tool.radius)

    def _settled(self, position: Position, section: Section, among: Among) -> Need:
        ring = position.ring
        if among != "all":
            held = self.around.held(ring.rows, ring.columns)
            ring = ring.where(held if among == "holding" else ~held)
        found, exact = settled(ring, section, self._gauges(position, among))
        self.decided |= exact
        return found

    def _contact(self, kind: str, worst: Need) -> Contact | None:
        if worst.high <= LENGTH:
            return None
        return Contact(kind, worst.high, self._point(worst), self._body(worst))  # type: ignore[arg-type]

    def _point(self, worst: Need) -> Vec3:
        """The top of the obstacle at the worst column, in the part's frame."""
        grid = self.around.grid
        x, y = grid.x0 + worst.column * grid.h, grid.y0 + worst.row * grid.h
        return self.stage.frame.to_world((x, y, float(self.around.top[worst.row, worst.column])))

    def _body(self, worst: Need) -> str:
        owner = self.around.owner(worst.row, worst.column)
        if owner != NOBODY:
            return self.stage.holding.bodies[owner].name
        x, y, z = self.stage.frame.to_local(self._point(worst))
        inside = self.stage.frame.to_world((x, y, z - LENGTH))
        return "stock" if measure.contains(self.part.body, inside) == "out" else "part"

    def _beside(self) -> Need:
        """The highest metal beside the cutter's own path, over the tip; its rise is the depth of the cut."""
        found = []
        for position in self.positions:
            ring = position.ring
            rise = np.where(ring.near <= position.own + BESIDE * self.around.grid.h, ring.rise, -np.inf)
            deep = rise > usable(self.tool) + LENGTH
            if self.tool.holder and deep.any() and not self._has_wall(position, usable(self.tool) + LENGTH):
                rise = np.where(deep, -np.inf, rise)  # a holder that nobody states may be as wide as it likes
            if len(rise) and np.isfinite(rise.max()):
                k = int(np.argmax(rise))
                found.append(Need(float(rise[k]), float(rise[k]), int(ring.rows[k]), int(ring.columns[k]), ring.tip))
        return worst_of(found) if found else Need(0.0, 0.0, -1, -1, 0.0)

    def _has_wall(self, position: Position, height: float) -> bool:
        """Whether anything that rises so far over the tip stands next to the cutter's path: columns cannot tell, the
        wider the part is the farther they lie apart."""
        within = position.own + NEXT_TO
        return self._gauges(position, "all").wall(position.ring.tip + height, within + LENGTH) <= within

    def _slimmest(self, height: float) -> float | None:
        """Twice the largest radius that clears everything above a height over the tip; None when only the cutter's.

        Wanted where something touches alone: so the grid's bounds only say which positions are measured first.
        """
        nearest = sorted(((least_radius(p.ring, height), i) for i, p in enumerate(self.positions)))
        radius = np.inf
        for tries, (bound, i) in enumerate(nearest):
            if bound >= radius:
                break
            radius = min(radius, self._clears(self.positions[i], height) if tries < MOST_HEIGHTS else bound)
        return None if not np.isfinite(radius) or radius <= self.tool.radius + LENGTH else 2 * float(radius)

    def _clears(self, position: Position, height: float) -> float:
        """The largest radius that clears all that rises above ``height`` over the tip of one position, by solids."""
        ring, gauges = position.ring, self._gauges(position, "all")
        tall = ring.where(ring.rise > height + LENGTH)
        limit, z = float(tall.far.max()), ring.tip + height + LENGTH
        walls = [gauges.wall(z, limit)] if not tall.aside.all() else []
        return min([*walls, gauges.aside(z, limit)] if tall.aside.any() else walls)

    def _gauges(self, position: Position, among: Among) -> Gauges:
        """Exact distances from the axis at a position; nothing is built before the first one is asked for."""

        def wall(z: float, limit: float) -> float:
            path, own = self._path(position)
            return self._surroundings.gap(path, z, limit - own, among) + own

        def aside(z: float, limit: float) -> float:
            return self._surroundings.past(position.ring.tip, z, limit + self.tool.radius) - self.tool.radius

        return Gauges(wall, aside)

    def _path(self, position: Position) -> tuple[Region, float]:
        if position not in self._paths:
            if position.plunge is not None:
                self._paths[position] = path_of_plunge(self.stage.frame, position.plunge)
            else:
                assert position.level is not None
                self._paths[position] = path_of_level(self.stage.frame, self.cut, position.level.tip)
        return self._paths[position]

    @cached_property
    def _surroundings(self) -> Surroundings:
        return Surroundings(self.stage, self.number)
