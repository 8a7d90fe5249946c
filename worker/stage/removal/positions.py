"""Where an undercutting cutter may stand: its head beside the part's sections, neck and shank beside its shadow.

A position is a point of the axis (x, y of the setup's frame) and a height of the tip. Between heights at which
nothing changes one region of axis points holds for all of them; at such a height itself more may be free, as when
the head is exactly as high as its groove.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from schemas.tolerances import COINCIDENT
from schemas.tool import Tool
from worker.kernel.errors import KernelError
from worker.kernel.planar import Region, boxes_meet, components, grow, intersect, overlap, subtract, union
from worker.kernel.planar_edge import length
from worker.kernel.section import Sections
from worker.kernel.shadow import Shown, Skyline
from worker.stage.model import Stand
from worker.stage.removal.heads import fitted, head_of
from worker.stage.removal.scene import Scene

BESIDE = 1e-5
"""Sections are taken this far (mm) from faces square to the axis, where metal begins or ends."""
SAME = 1e-9
"""Regions whose areas and bounds differ by less than this share are one."""
SHARES = (0.15, 0.3, 0.4, 0.5, 0.6, 0.7, 0.85)
"""Where between two heights walls that are not upright are looked at, beside the ends."""

Upper = tuple[tuple[float, float], ...]
"""Neck and shank: from which height above the tip on (mm), and their radius there."""


@dataclass(frozen=True)
class Limits:
    """Lowest and highest tip, the allowances, and whether the depth is stated.

    With a stated depth only sections between ``floor`` and the highest of the ``roofs``, the feature's own, bound the
    head, and the workholding does not.
    """

    low: float
    high: float
    floor: float
    roofs: tuple[float, ...]
    side: float = 0.0
    raised: float = 0.0
    obeyed: bool = False


@dataclass(frozen=True)
class Barrier:
    """Metal that a tool must clear: the part grown by its allowances, or the workholding."""

    sky: Skyline
    sections: Sections
    side: float = 0.0
    raised: float = 0.0

    @property
    def lowered(self) -> float:
        """How much lower roofs count."""
        return max(self.side, 0.0)

    def changes_at(self, z: float) -> bool:
        """Whether some face begins or ends at a height, or so near that a section there may not be defined."""
        return any(min(abs(z - s.low), abs(z - s.high)) <= 2 * BESIDE for s in self.sky.shown)


class Space:
    """All positions of one tool over one ground, within limits."""

    def __init__(self, scene: Scene, tool: Tool, limits: Limits, ground: Region) -> None:
        self.tool, self.limits, self.ground = tool, limits, ground
        self.head = fitted(head_of(tool), (z - max(limits.side, 0.0) - limits.low for z in limits.roofs))
        self.domain = scene.domain(tool)
        part = Barrier(scene.sky, Sections(scene.part.body, scene.frame), limits.side, limits.raised)
        held = scene.obstacles if not limits.obeyed else None
        self.barriers = [part, *([Barrier(held, Sections(held.body, scene.frame))] if held else [])]
        self._known: dict[tuple[float, Upper], tuple[Stand, ...]] = {}
        self._bars: dict[tuple[tuple[float, float], float], list[Region]] = {}

    def stands(
        self, slack: float, *, necked: bool = True, shanked: bool = True, tool: Tool | None = None
    ) -> tuple[Stand, ...]:
        """The free positions with the head within the ground, from the lowest tip up, that a way in leads to.

        All radii are smaller by ``slack``. ``necked`` and ``shanked``: whether neck and shank count; ``tool``: whose,
        where not those of the head's own tool do.
        """
        upper = tuple(self._upper(tool or self.tool, slack, necked, shanked))
        if (slack, upper) not in self._known:
            self._known[slack, upper] = self._found(slack, upper)
        return self._known[slack, upper]

    def _found(self, slack: float, upper: Upper) -> tuple[Stand, ...]:
        found = [Stand(*span, self._free(span, slack, upper)) for span in self._spans]
        rooted = _rooted(found, [self._sky(s.low, slack, upper) if s.free else s.free for s in found])
        inside = grow(self.ground, slack - self.head.radius)
        return tuple(s for s in (replace(one, free=intersect(one.free, inside)) for one in rooted) if s.free)

    def _upper(self, tool: Tool, slack: float, necked: bool, shanked: bool) -> Iterator[tuple[float, float]]:
        """Neck and shank as (height above the tip, radius)."""
        if necked:
            yield self.head.height, max(tool.neck_diameter / 2 - slack, 0.0)
        if shanked:
            yield max(tool.usable_length, self.head.height), max(tool.shank_diameter / 2 - slack, 0.0)

    @cached_property
    def _spans(self) -> list[tuple[float, float]]:
        """Tips at which something changes and, for straight heads, what lies between them."""
        tips = self._tips()
        between = list(pairwise(tips)) if self.head.straight else []
        return sorted([*((tip, tip) for tip in tips), *between])

    def _tips(self) -> list[float]:
        """Tips at which something changes, never farther apart than the head is high."""
        limits, high = self.limits, self.head.height
        middles = [z for a, b in self._bent for z in (a, (a + b) / 2, b)]
        wanted = [limits.low, limits.high, *(z - high / 2 for z in middles)]
        wanted += [z for one in self._changes for z in (one + limits.raised, one - max(limits.side, 0.0) - high)]
        tips = _distinct(z for z in wanted if limits.low <= z <= limits.high)
        steps = [(a, b, int((b - a) / high)) for a, b in pairwise(tips)]
        return _distinct([*tips, *(a + (b - a) * i / (n + 1) for a, b, n in steps for i in range(1, n + 1))])

    @cached_property
    def _faces(self) -> list[Shown]:
        """Faces near the ground."""
        gap = 2.0 * self.tool.radius + max(self.limits.side, 0.0)
        return [s for one in self.barriers for s in one.sky.shown if boxes_meet(s.bounds, self.ground.bounds, gap)]

    @cached_property
    def _changes(self) -> list[float]:
        """Heights at which faces near the ground begin or end."""
        return _distinct(z for s in self._faces for z in (s.low, s.high))

    @cached_property
    def _bent(self) -> list[tuple[float, float]]:
        """Spans of faces near the ground that are neither square to the axis nor upright."""
        return sorted({(s.low, s.high) for s in self._faces if s.look != "upright" and not s.flat})

    def _free(self, span: tuple[float, float], slack: float, upper: Upper) -> Region:
        """Axis points that are free for all tips of a span."""
        tops = [
            grow(one.sky.above(span[0] + h - one.lowered + COINCIDENT), r + one.side)
            for one in self.barriers
            for h, r in upper
        ]
        if (span, slack) not in self._bars:
            self._bars[span, slack] = self._barred(span, slack)
        return subtract(self.domain, self._apart([*self._bars[span, slack], *tops]))

    def _barred(self, span: tuple[float, float], slack: float) -> list[Region]:
        """Axis points from which the head alone meets metal at some tip of a span."""
        heights = [(one, z, r) for one in self.barriers for z, r in self._samples(span, one)]
        return self._apart([grow(one.sections.at(z), r + one.side - slack) for one, z, r in heights])

    def _apart(self, barred: Iterable[Region]) -> list[Region]:
        apart = _different(barred)
        return apart if self.head.straight else _outermost(apart)

    def _samples(self, span: tuple[float, float], one: Barrier) -> Iterator[tuple[float, float]]:
        """Heights at which the head must clear the metal, each with the head's radius there."""
        low, high = span
        head = replace(self.head, height=self.head.height + high - low)
        start, end = low - one.raised, high + self.head.height + one.lowered
        if self.limits.obeyed:
            start, end = max(start, self.limits.floor), min(end, max(self.limits.roofs))
        inner = [z for z in self._changes if start < z < end]
        for a, b in pairwise(_distinct([start, *inner, end])):
            for p, q in self._pieces(a, b, one):
                yield (p + q) / 2, head.widest(p - one.lowered - low, q + one.raised - low)

    def _pieces(self, a: float, b: float, one: Barrier) -> Iterator[tuple[float, float]]:
        """One piece where all walls are upright, many heights where they are not: the very ends unless faces begin
        or end there. Beside them, a head would turn about a place a hair off the metal's own corner."""
        if b - a <= 4 * BESIDE:
            return
        if not any(p < b - COINCIDENT and a + COINCIDENT < q for p, q in self._bent):
            yield a, b
            return
        first, last = (BESIDE if one.changes_at(z) else 0.0 for z in (a, b))
        for z in (a + first, *(a + (b - a) * share for share in SHARES), b - last):
            yield z, z

    def _sky(self, tip: float, slack: float, upper: Upper) -> Region:
        """Axis points from which the whole tool can go straight up."""
        radius = max([self.head.radius - slack, *(r for _, r in upper)])
        tips = [(one, tip - one.raised + COINCIDENT) for one in self.barriers]
        return subtract(self.domain, [grow(one.sky.above(z), radius + one.side) for one, z in tips])


def _distinct(heights: Iterable[float]) -> list[float]:
    found: list[float] = []
    for z in sorted(heights):
        if not found or z > found[-1] + COINCIDENT:
            found.append(z)
    return found


def _different(regions: Iterable[Region]) -> list[Region]:
    """The regions without those that are the same as an earlier one but for rounding: walls that fit the head give
    one border at every height, and borders that lie on each other pull their corners off their places."""
    found: list[tuple[tuple[float, ...], Region]] = []
    for region in regions:
        sizes = (region.area, *region.bounds) if region else ()
        known = (k for k, _ in found if len(k) == len(sizes))
        if sizes and not any(
            all(abs(a - b) <= SAME * max(1.0, abs(a)) for a, b in zip(k, sizes, strict=True)) for k in known
        ):
            found.append((sizes, region))
    return [region for _, region in found]


def _outermost(regions: Iterable[Region]) -> list[Region]:
    """The regions without those that lie in another: where a flank follows a wall, each height bars the same strip and
    only rounds its ends otherwise, and a border of arcs that touch one line in one point comes out in shreds."""
    kept: list[Region] = []
    for region in sorted(regions, key=lambda one: -one.area):
        if not any(_lies_in(region, other) for other in kept):
            kept.append(region)
    return kept


def _lies_in(region: Region, other: Region) -> bool:
    (x0, y0, x1, y1), (u0, v0, u1, v1) = region.bounds, other.bounds
    if min(x0 - u0, y0 - v0, u1 - x1, v1 - y1) < -COINCIDENT:
        return False
    try:
        return subtract(region, [other]).area <= COINCIDENT * sum(length(edge) for edge in region.edges)
    except KernelError:
        return False


def _rooted(stands: list[Stand], skies: list[Region]) -> Iterator[Stand]:
    """The stands without the pieces that no way leads to: from above, or through the stands next to them."""
    pieces = [(i, piece) for i, stand in enumerate(stands) for piece in components(stand.free)]
    reached = [overlap(piece, skies[i]) for i, piece in pieces]
    touching = [
        (a, b)
        for a, (i, one) in enumerate(pieces)
        for b, (k, other) in enumerate(pieces[:a])
        if abs(i - k) == 1 and overlap(one, other)
    ]
    grown = True
    while grown:
        found = [(a, b) for a, b in touching if reached[a] != reached[b]]
        for a, b in found:
            reached[a] = reached[b] = True
        grown = bool(found)
    for i, stand in enumerate(stands):
        kept = union(piece for (k, piece), known in zip(pieces, reached, strict=True) if known and k == i)
        if kept:
            yield replace(stand, free=kept)
