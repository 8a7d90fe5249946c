"""Reach of an undercutting cutter: over the very positions its head works from, against exact shadows (mm).

A head under an overhang stands where nothing taller than itself may be looked for in its own column, so no height
map can find its obstacles. Its positions are regions, kept with the cut; a section of the assembly takes from them
what its disc would touch. A section is high enough when what is left of the positions still covers all metal that
the step takes, and still leads out to where the whole tool can be lifted.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from schemas.base import Vec3
from schemas.tolerances import COINCIDENT, LAYER, LENGTH, OPENING_SLACK
from worker.kernel.errors import KernelError
from worker.kernel.planar import NOWHERE, Region, components, disc, grow, intersect, overlap, rectangle, subtract, union
from worker.kernel.planar_edge import length
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.reach.assembly import Kind, Section, sections, stick_out, usable
from worker.reach.cover import inner_point
from worker.reach.model import Contact, Reach
from worker.stage.model import Stage, Stand

FINE = 2e-3
"""Heights and diameters are found to this (mm): a tenth of what a least stick-out is stated to."""
BESIDE = 0.4
"""Metal this near to the head's path (mm) is the wall beside it."""
HAIRS = (-1e-4, 1e-4, -3e-4)
"""Radii are eased by these (mm), less than two sizes may differ and still be equal."""
SLOPES = 4
"""Heights between two tops at which a cone is compared with slanting metal."""
DEEP = 1e-4
"""A shadow is asked for this far (mm) below the top of what throws it."""


@dataclass(frozen=True, eq=False)
class Metal:
    """One body that may be touched; ``name`` as contacts give it."""

    name: str
    sky: Skyline

    def tops(self, above: float) -> list[float]:
        """Heights above ``above`` at which faces that look up end."""
        return sorted({round(s.high, 6) for s in self.sky.upward(above)})


def grown(region: Region, amount: float) -> Region:
    """The region grown; by a hair more or less where its border then just touches itself and is no loop."""
    for off in (0.0, *HAIRS):
        try:
            return grow(region, amount + off)
        except KernelError:
            continue
    return grow(region, amount + 2 * HAIRS[0])


def _met(section: Section, tip: float, metal: Metal) -> Iterator[tuple[Region, float]]:
    """What stands beside a section, each with the radius that the section has where it ends."""
    base = tip + section.low
    heights = [base + COINCIDENT]
    if section.top > section.bottom:
        tops = [base, *(z for z in metal.tops(base) if z < base + section.length), base + section.length]
        heights = [a + (b - a) * k / SLOPES for a, b in pairwise(tops) for k in range(1, SLOPES + 1)]
    for z in heights:
        shadow = metal.sky.above(z - DEEP if section.top > section.bottom else z)
        radius = section.bottom + (section.top - section.bottom) * min((z - base) / section.length, 1.0)
        if shadow:
            yield shadow, max(radius, section.bottom) - LENGTH
    if section.top > section.bottom and metal.sky.above(base + section.length):
        yield metal.sky.above(base + section.length), section.top - LENGTH


class UnderStep:
    """One cut with its positions and what stands round it once it is done."""

    def __init__(self, stage: Stage, number: int, part: Part) -> None:
        self.stage, self.frame = stage, stage.frame
        self.cut = stage.cuts[number]
        self.tool = self.cut.tool
        self.radius = self.tool.radius - OPENING_SLACK
        stock = self._metal("stock", stage.stock_before(number + 1))
        held = [self._metal(b.name, b.body) for b in stage.holding.bodies]
        self.metal = [m for m in (stock, *held) if m is not None]
        self.part = self._metal("part", part.body)

    def _metal(self, name: str, body: Body) -> Metal | None:
        return None if is_empty(body) else Metal(name, Skyline(body, self.frame))

    @cached_property
    def taken(self) -> Region:
        """What the step's metal covers, seen along the spindle."""
        return NOWHERE if is_empty(self.cut.removal) else Skyline(self.cut.removal, self.frame).above(-1e9)

    @cached_property
    def stands(self) -> tuple[tuple[Stand, Region], ...]:
        """The positions that reach metal, each with what they cover of it."""
        covered = [(s, intersect(grown(s.free, self.radius), self.taken)) for s in self.cut.stands]
        return tuple((s, cover) for s, cover in covered if cover)

    def reach(self) -> Reach:
        """The result; see the model."""
        every = sections(self.tool)
        least = {kind: self._lift(kind, every) for kind in ("neck", "shank", "holder")}
        top, deepest = self._beside()
        rubs = least["neck"] > LENGTH or least["shank"] > LENGTH
        return Reach(
            step=self.cut.step.id,
            tool=self.tool.id,
            **stick_out(self.tool, least["holder"]),
            holder=self._contact("holder", least["holder"], every),
            shank=self._contact("shank", least["shank"], every),
            neck=self._contact("neck", least["neck"], every),
            depth=top,
            usable=usable(self.tool),
            deepest=deepest,
            beside="stock" if top > usable(self.tool) else "",
            slimmest_holder=self._slimmest(self.tool.stickout) if least["holder"] > LENGTH else None,
            largest_shank=self._slimmest(self.tool.edge_length) if rubs else None,
            exact=True,
        )

    def _lift(self, kind: Kind, every: Sequence[Section]) -> float:
        """How much higher the sections of a kind would have to be; negative for a holder with room to spare."""
        own = [s for s in every if s.kind == kind]
        if not own or not self.stands or (kind != "holder" and self._serves(own, self.metal)):
            return -self.tool.stickout if kind == "holder" else 0.0
        tips = sorted({stand.low for stand, _ in self.stands})
        tops = {z for m in self.metal for z in m.tops(tips[0])}
        floor = -min(s.low for s in own)
        wanted = sorted({z - s.low - tip for z in tops for s in own for tip in tips if z - s.low - tip > floor})
        return self._least([floor, *wanted], own)

    def _least(self, lifts: list[float], own: Sequence[Section]) -> float:
        """The least lift that serves: at a top exactly, or between two of them where a slope or a cone decides."""

        def serves(lift: float) -> bool:
            return self._serves([replace(s, low=s.low + lift) for s in own], self.metal)

        number = bisect_left(lifts, True, key=serves)
        if number == 0 or number == len(lifts) or not serves(lifts[number] - FINE):
            return lifts[min(number, len(lifts) - 1)]
        low, high = lifts[number - 1], lifts[number] - FINE
        while high - low > FINE:
            middle = (low + high) / 2
            low, high = (low, middle) if serves(middle) else (middle, high)
        return high

    def _serves(self, assembly: Sequence[Section], metal: Sequence[Metal]) -> bool:
        """Whether the positions that clear the metal with these sections still do the whole step."""
        for stand, cover in self.stands:
            left = subtract(stand.free, list(self._barred(stand.low, assembly, metal)))
            lost = subtract(cover, [grown(self._with_way_out(left, stand), self.radius)])
            if lost.area > LAYER * max(1.0, sum(length(e) for e in cover.edges)):
                return False
        return True

    def _barred(self, tip: float, assembly: Sequence[Section], metal: Sequence[Metal]) -> Iterator[Region]:
        """Axis points from which a section would touch metal."""
        for section in assembly:
            for one in metal:
                yield from (grown(shadow, radius) for shadow, radius in _met(section, tip, one))

    def _with_way_out(self, left: Region, stand: Stand) -> Region:
        """The pieces of the positions from which the whole tool can be lifted somewhere; where it never can within a
        piece of all positions, its way in leads over other heights, or round what stands beside, and it counts."""
        sky = self._sky(stand.low)
        closed = [piece for piece in components(stand.free) if not subtract(piece, sky)]
        pieces = components(left)
        return union(p for p in pieces if subtract(p, sky) or any(overlap(p, whole) for whole in closed))

    def _sky(self, tip: float) -> list[Region]:
        """Axis points over which something stands in the way of head, neck or shank on the way up."""
        radius = max(self.radius, *(s.radius - LENGTH for s in sections(self.tool) if s.kind != "holder"))
        return [grown(one.sky.above(tip + COINCIDENT), radius) for one in self.metal]

    def _contact(self, kind: Kind, lift: float, every: Sequence[Section]) -> Contact | None:
        if lift <= LENGTH:
            return None
        own = [s for s in every if s.kind == kind]
        culprit = next((m for m in self._suspects if not self._serves(own, [m])), self.metal[0])
        return Contact(kind, lift, self._touched(own, culprit), culprit.name)

    @property
    def _suspects(self) -> list[Metal]:
        return [m for m in (self.part, *self.metal) if m is not None]

    def _touched(self, own: Sequence[Section], metal: Metal) -> Vec3:
        """A point of the metal's top that is touched, in the part's frame."""
        for stand, _ in self.stands:
            for section in own:
                for shadow, radius in _met(section, stand.low, metal):
                    common = intersect(grown(stand.free, radius), shadow)
                    if common:
                        x, y = inner_point(common)
                        return self.frame.to_world((x, y, self._height(metal, (x, y), stand.low)))
        return self.frame.location

    def _height(self, metal: Metal, at: tuple[float, float], above: float) -> float:
        """Height of the metal's top at a place."""
        spot = disc(at, DEEP)
        tops = [z for z in metal.tops(above) if overlap(metal.sky.above(z - DEEP), spot)]
        return max(tops, default=above)

    def _beside(self) -> tuple[float, Vec3 | None]:
        """How far the tip goes below the highest stock beside the head's path, and a point of its top."""
        stock = next((m for m in self.metal if m.name == "stock"), None)
        best: tuple[float, Vec3 | None] = (0.0, None)
        for stand, cover in self.stands if stock else ():
            x0, y0, x1, y1 = cover.bounds
            here = rectangle(x0 - BESIDE, y0 - BESIDE, x1 + BESIDE, y1 + BESIDE)
            path = intersect(grown(stand.free, self.radius + BESIDE), here)
            found = self._highest(stock, path, stand.low) if stock else None
            if found is not None and found[1] - stand.low > best[0]:
                best = (found[1] - stand.low, self.frame.to_world((*inner_point(found[0]), found[1])))
        return best

    def _highest(self, metal: Metal, path: Region, above: float) -> tuple[Region, float] | None:
        """The highest top over a path: where, and how high."""
        for z in reversed(metal.tops(above)):
            common = intersect(path, metal.sky.above(z - DEEP))
            if common:
                return common, z
        return None

    def _slimmest(self, low: float) -> float | None:
        """Diameter of the thickest cylinder from a height above the tip up that still does the step."""
        thin, thick = 0.0, 4.0 * self.tool.radius + max((s.radius for s in sections(self.tool)), default=0.0)
        if not self._serves([Section("neck", low, 1e6, thin, thin)], self.metal):
            return None
        while thick - thin > FINE:
            middle = (thin + thick) / 2
            fits = self._serves([Section("neck", low, 1e6, middle, middle)], self.metal)
            thin, thick = (middle, thick) if fits else (thin, middle)
        return 2.0 * thin
