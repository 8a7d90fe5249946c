"""Cutters that undercut: a wide head on a thin neck that travels beneath what stands above it (setup's frame, mm).

Where the axis may stand: the head clear of the part's sections at its own heights, neck and shank clear of all that
stands above them, the head inside the ground; and only where it can come from outside the metal or from straight above.
The head takes what its disc covers from there at each height; neck and shank take nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH, OPENING_SLACK
from schemas.tool import Tool
from worker.field.arcs import followed_section
from worker.field.axis_places import apart, corner_lines, lines_over
from worker.field.ground import Own, recess_ground
from worker.field.lines import Floats, Lines, intersect, subtract, together, union
from worker.field.outlines import same, section
from worker.field.plane import (
    FAR,
    Everywhere,
    Grown,
    Known,
    Outlined,
    Region,
    Remembered,
    Shadow,
    Sided,
    components,
    discs,
    meets,
    sorted_lines,
)
from worker.field.rows import covered
from worker.field.scene import UPRIGHT, Scene
from worker.field.solids import Layer, Stack
from worker.field.tight import tips
from worker.field.touching import ends
from worker.stage.model import Cut

BARS = 9
"""Heights at which the part's sections bar the head."""
NEAR = 1e-5
"""So far (mm) within the head's ends, and from where level faces begin or end, sections are taken as well."""
BENDS = 16
"""Layers of a rounded edge; a dovetail's flank has twice as many."""
LEAST_LAYERS = 4
"""Layers of a flank that is low."""
Pass = tuple[tuple[float, float], "Reached"]
"""Lowest and highest tip, and where the axis gets to for all between."""
FINE = 4
"""Passes between two tips of a round head along walls that lean or are round: it follows those at all heights."""
STAIRS = 4
"""Layers stand in stairs where the head is bent: no more than a quarter of each step lies on either side."""


@dataclass(frozen=True)
class Head:
    """A tool's head, as high as it is or as its way is long."""

    tool: Tool
    height: float
    layers: int = 2 * BENDS
    """Layers of its height where it tapers."""

    @property
    def tapers(self) -> bool:
        """Whether its side leans: then no two tips have the same room."""
        return self.tool.type == "dovetail_mill"

    @property
    def bent(self) -> bool:
        """Whether its radius changes with the height."""
        return self.tool.corner_radius > COINCIDENT or self.tapers

    def radius(self, h: float) -> float:
        """At a height above the tip: edges rounded by RE; a dovetail's flank from its sharp corner."""
        tool, corner = self.tool, self.tool.corner_radius
        if not self.tapers:
            near = min(h, self.height - h)
            bow = math.sqrt(max(corner**2 - (corner - near) ** 2, 0.0))
            return tool.radius - (corner - bow if near < corner else 0.0)
        flank = math.radians(min(tool.KAPR or 90.0, 180.0 - (tool.KAPR or 90.0)))
        touch = corner / math.tan(flank / 2)
        if h < touch * math.sin(flank):
            return tool.radius - touch + math.sqrt(max(corner**2 - (corner - h) ** 2, 0.0))
        return tool.radius - h / math.tan(flank)

    def bends(self) -> Floats:
        """Heights between which the radius hardly changes: closer together where edges are round."""
        if self.tapers:
            return np.linspace(0.0, self.height, self.layers + 1)
        edge = min(self.tool.corner_radius, self.height / 2) * (1 - np.cos(np.linspace(0.0, math.pi / 2, BENDS + 1)))
        return np.unique(np.concatenate((edge, self.height - edge)))


@dataclass(frozen=True)
class Room:
    """Lowest and highest tip; the feature's floor, highest roof and all its roofs; allowances; whether the depth is
    stated.

    At a stated depth only what stands between floor and roof bars the head, and no workholding does.
    """

    low: float
    high: float
    floor: float
    roof: float
    roofs: tuple[float, ...]
    side: float
    raised: float
    stated: bool

    @property
    def lowered(self) -> float:
        """How much lower roofs count: past walls alone a head goes where its allowance is negative."""
        return max(self.side, 0.0)


def undercut(scene: Scene, cut: Cut, feature: Feature, own: Own | None = None) -> list[Stack]:
    """What the head takes. ``own``: the feature's rectangle where others share its floor."""
    tool, floors = cut.tool, scene.up_of(feature.faces)
    if not len(floors):
        return []
    room = _room(scene, cut, feature, floors)
    head = _layered(Head(tool, _height(tool.edge_length, room)), room)
    changes = _changes(scene, head, room, feature)
    spans = _spans(head, _tips(scene, head, room, changes, feature))
    stands = [_stand(scene, head, room, span, floors, changes, own) for span in spans]
    found = list(zip(spans, stands, strict=True))
    if not head.tapers:
        found = _joined(found)
    else:
        found = [one for one in found if one[1].enters(Shadow(floors), scene.scan_lines[0])] or found
    return [_swept(scene, replace(head, height=high + head.height - low), low, stand) for (low, high), stand in found]


def _joined(found: Sequence[Pass]) -> list[Pass]:
    """Neighbouring spans in which the axis gets to the same places as one."""
    kept: list[Pass] = []
    for (low, high), stand in found:
        if kept and np.array_equal(kept[-1][1].points, stand.points):
            kept[-1] = (kept[-1][0][0], high), stand
        else:
            kept.append(((low, high), stand))
    return kept


def _height(edge: float, room: Room) -> float:
    """The head's height: what the edge has, but the room's where it is higher by less than sizes differ by: the lowest
    such room, where roofs are of several heights."""
    spaces = (z - room.lowered - room.low for z in room.roofs)
    return min((s for s in spaces if 0.0 < edge - s <= LENGTH + COINCIDENT), default=edge)


def _layered(head: Head, room: Room) -> Head:
    """All passes of a head that tapers together have the layers of one as high as the groove."""
    share = head.height / max(room.roof - room.floor, head.height)
    return replace(head, layers=max(math.ceil(2 * BENDS * share), LEAST_LAYERS))


def _room(scene: Scene, cut: Cut, feature: Feature, floors: Floats) -> Room:
    step, stated = cut.step, cut.step.bottom_z is not None
    roofs = _roofs(scene, feature)
    floor, roof = float(floors[:, :, 2].min()), max(roofs)
    low = step.bottom_z if step.bottom_z is not None else floor + step.allowance_bottom
    raised = 0.0 if stated else max(step.allowance_bottom, 0.0)
    high = max(low, roof - max(step.allowance_side, 0.0) - cut.tool.edge_length)
    return Room(low, high, floor, roof, roofs, step.allowance_side, raised, stated)


def _tips(scene: Scene, head: Head, room: Room, changes: Sequence[float], feature: Feature) -> list[float]:
    """Tips of level passes, no farther apart than the head is high: wherever a level face begins or ends at one of its
    ends, and wherever a leaning one does, or is halfway, at its middle."""
    middles = [z - head.height / 2 for a, b in _leaning(scene, head, feature) for z in (a, (a + b) / 2, b)]
    ends = [t for z in changes for t in (z + room.raised, z - room.lowered - head.height)]
    tips = [room.low]
    for tip in sorted(t for t in (*middles, *ends, room.high) if room.low < t <= room.high):
        tips += [tip] if tip > tips[-1] + LENGTH else []
    found = [room.low]
    for a, b in pairwise(tips):
        pieces = max(int((b - a) / head.height) + 1, FINE if middles and head.bent and not head.tapers else 1)
        found += [a + (b - a) * (k + 1) / pieces for k in range(pieces)]
    return found


def _spans(head: Head, tips: Sequence[float]) -> list[tuple[float, float]]:
    """The passes, and what lies between two of them, but of a head that tapers: no two tips of that have one room."""
    between = [] if head.tapers else list(pairwise(tips))
    return sorted([*((tip, tip) for tip in tips), *between])


def _leaning(scene: Scene, head: Head, feature: Feature) -> set[tuple[float, float]]:
    """From where to where faces about the feature reach that are neither level nor upright."""
    mine = scene.part[scene.of(feature)].reshape(-1, 3)
    low, high = mine[:, :2].min(axis=0) - head.tool.diameter, mine[:, :2].max(axis=0) + head.tool.diameter
    leans = (np.abs(scene.looks) > UPRIGHT) & (np.abs(scene.looks) < 1 - UPRIGHT)
    found = set()
    for face in np.unique(scene.owner[leans]):
        points = scene.part[scene.owner == face].reshape(-1, 3)
        (x0, y0, z0), (x1, y1, z1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        if x0 < high[0] and y0 < high[1] and x1 > low[0] and y1 > low[1]:
            found.add((z0, z1))
    return found


def _changes(scene: Scene, head: Head, room: Room, feature: Feature) -> list[float]:
    """Heights of level faces about the feature, and of the workholding, rising."""
    mine = scene.part[scene.of(feature)].reshape(-1, 3)
    low, high = mine[:, :2].min(axis=0) - head.tool.radius, mine[:, :2].max(axis=0) + head.tool.radius
    level = scene.part[np.abs(scene.looks) > 1 - UPRIGHT]
    near = np.all((level[:, :, :2].max(axis=1) > low) & (level[:, :, :2].min(axis=1) < high), axis=1)
    held = scene.held[:0] if room.stated else scene.held
    return [float(z) for z in np.unique(np.round(np.concatenate((level[near], held))[:, :, 2], 6))]


def _beside(
    scene: Scene, head: Head, room: Room, span: tuple[float, float], changes: Sequence[float]
) -> Iterator[tuple[Outlined, Outlined, float]]:
    """Sections of the part and of the workholding at the head's heights, and the head's radius there."""
    whole = replace(head, height=head.height + span[1] - span[0])
    start, end = span[0] - room.raised, span[1] + head.height + room.lowered
    if room.stated:
        start, end = max(start, room.floor), min(end, room.roof)
    stops = [start, *(z for z in changes if start + LENGTH < z < end - LENGTH), end]
    every = set(np.linspace(start, end, BARS + 2)[1:-1].tolist())
    every |= {z for a, b in pairwise(stops) for z in (a + NEAR, (a + b) / 2, b - NEAR) if b - a > 2 * NEAR}
    for z in sorted(every) if end > start else []:
        at = np.clip([z - room.lowered - span[0], z + room.raised - span[0]], 0.0, whole.height)
        held = np.zeros((0, 2, 2)) if room.stated or not len(scene.held) else section(scene.held, z)
        radius = max(whole.radius(float(h)) for h in (*at, float(at.mean())))
        yield Outlined(followed_section(scene.part, scene.owner, z)), Outlined(held), radius


def _roofs(scene: Scene, feature: Feature) -> tuple[float, ...]:
    """The heights of the faces that look straight down, else the feature's top."""
    mine = scene.part[scene.of(feature)]
    down = mine[scene.looks[scene.of(feature)] < UPRIGHT - 1]
    found = down[:, :, 2] if len(down) else mine[:, :, 2].max(keepdims=True)
    return tuple(np.unique(np.round(found, 6)).tolist())


@dataclass(frozen=True, eq=False)
class Standing:
    """Where the axis may stand: the ground but for its border's discs, and what is grown by each radius."""

    ground: Region
    border: Floats
    radius: float
    barred: tuple[Region, ...]

    def scan(self, along: int, at: Floats) -> Lines:
        """Free stretches."""
        taken = [b.scan(along, at) for b in self.barred]
        rim = discs(self.border[:, along], self.border[:, 1 - along], self.radius, at)
        return sorted_lines(subtract(self.ground.scan(along, at), together([*taken, rim])))


@dataclass(frozen=True, eq=False)
class Reached:
    """Points of the border of where the axis gets to, and where it may stand."""

    points: Floats
    standing: Standing
    step: float

    def inner(self, along: int, at: Floats) -> Lines:
        """Where the axis itself gets to."""
        near = covered(self.points[:, along], self.points[:, 1 - along], 2 * self.step, at)
        found = self.standing.scan(along, at)
        return found.where(meets(found, near))

    def enters(self, region: Region, at: Floats) -> bool:
        """Whether the axis gets into a region: beside it alone a head that tapers would only nibble at its ends."""
        return bool(meets(self.inner(0, at), region.scan(0, at)).any())

    def covered(self, radius: float, inner: Lines, along: int, at: Floats) -> Lines:
        """What a disc about all these places covers."""
        return union(together([inner, discs(self.points[:, along], self.points[:, 1 - along], radius, at, self.step)]))


def _stand(
    scene: Scene,
    head: Head,
    room: Room,
    span: tuple[float, float],
    floors: Floats,
    changes: Sequence[float],
    own: Own | None,
) -> Reached:
    """Where the axis gets to for all tips of a span."""
    tool = head.tool
    below = Outlined(followed_section(scene.part, scene.owner, room.floor + LENGTH))
    ground = recess_ground(floors, lambda z: below, own=own)
    if isinstance(ground, Everywhere):  # open on all sides: no farther off than a head gets that works in it
        ground = Grown(Shadow(floors), tool.diameter)
    bars = _barred(scene, head, room, span, changes)
    at = lines_over(scene, tool.radius)
    step = apart(scene, tool.radius)
    border = np.concatenate([ends(ground.scan(k, at[k]), k, at[k]) for k in (0, 1)])
    border = border[np.all(np.abs(border) < FAR / 100, axis=1)]
    inside = Standing(ground, border, tool.radius - OPENING_SLACK, bars)
    free = Standing(Everywhere(), border[:0], 0.0, bars)
    over = [Grown(scene.shadow(span[0] - room.raised + COINCIDENT), tool.radius + room.side - OPENING_SLACK)]
    if len(scene.held_up) and not room.stated:
        over.append(Grown(Shadow(scene.held_up, span[0] + COINCIDENT), tool.radius - OPENING_SLACK))
    points = []
    for k in (0, 1):
        mine = _entered(free.scan(k, at[k]), over, k, at[k])
        here = sorted_lines(intersect(inside.scan(k, at[k]), mine))
        mine_ends = ends(here, k, at[k])
        points += [mine_ends, tips(lambda j, lines, _: inside.scan(j, lines), here, k, at[k])]
        points.append(_at_corners(inside, k, mine_ends, corner_lines(here, at[k]), step))
    return Reached(np.clip(np.concatenate(points), -FAR / 100, FAR / 100), inside, step)


def _at_corners(inside: Standing, k: int, known: Floats, at: Floats, step: float) -> Floats:
    """Ends of the axis' stretches on further lines, next to places where it is known to get to."""
    near = covered(known[:, k], known[:, 1 - k], 2 * step, at)
    found = inside.scan(k, at)
    return ends(found.where(meets(found, near)), k, at)


def _barred(
    scene: Scene, head: Head, room: Room, span: tuple[float, float], changes: Sequence[float]
) -> tuple[Region, ...]:
    """Sections by the head's radius at their heights, and all above neck and shank by theirs; fixtures likewise."""
    bars: list[tuple[Sided, float]] = []
    for own, held, radius in _beside(scene, head, room, span, changes):
        for bar, wide in ((own, radius + room.side), (held, radius)):
            if not any(abs(wide - r) < COINCIDENT and same(bar.sides, b.sides) for b, r in bars):
                bars.append((bar, wide))
    tool = head.tool
    for h, radius in ((head.height, tool.neck_diameter / 2), (tool.usable_length, tool.shank_diameter / 2)):
        bars.append((scene.shadow(span[0] + h - room.lowered + COINCIDENT), radius + room.side))
        if len(scene.held_up) and not room.stated:
            bars.append((Shadow(scene.held_up, span[0] + h + COINCIDENT), radius))
    return tuple(Remembered(Grown(bar, radius - OPENING_SLACK)) for bar, radius in bars if len(bar.sides))


def _entered(free: Lines, above: Sequence[Grown], along: int, at: Floats) -> Lines:
    """Stretches that hang together with the outside, or with a place over which nothing stands."""
    if not len(free):
        return free
    everything = Lines(np.arange(len(at)), np.full(len(at), -FAR), np.full(len(at), FAR))
    open_above = sorted_lines(subtract(everything, together([one.scan(along, at) for one in above])))
    names = components(free)
    outside = (free.start <= -FAR) | (free.stop >= FAR) | meets(free, open_above)
    return free.where(np.isin(names, np.unique(names[outside])))


def _swept(scene: Scene, head: Head, low: float, stand: Reached) -> Stack:
    """A layer for each height of the head at which its radius is another."""
    at, high = scene.scan_lines, low + head.height
    stand, inner = _over(scene, stand, head.tool.diameter)
    if not head.bent:
        layer = Layer(low, high, _covered(stand, inner, head.tool.radius, at))
        return Stack(scene.view, (layer,), (layer,))
    bends = list(pairwise(head.bends().tolist()))
    known = [_covered(stand, inner, head.radius((a + b) / 2), at) for a, b in bends]
    layers = [Layer(low + a, low + b, region) for (a, b), region in zip(bends, known, strict=True)]
    zs = scene.view.middles(scene.lattice, 2)
    zs = zs[(zs > low) & (zs < high)]
    slices = [Layer(z - LENGTH, z + LENGTH, _covered(stand, inner, head.radius(z - low), at)) for z in zs]
    sizes = [region.lines[0].total(np.gradient(at[0])) for region in known]
    steps = [abs(b - a) * (s.high - s.low) for (a, b), s in zip(pairwise(sizes), layers, strict=False)]
    return Stack(scene.view, tuple(layers), tuple(slices), stairs=sum(steps) / STAIRS)


def _over(scene: Scene, stand: Reached, wide: float) -> tuple[Reached, tuple[Lines, Lines]]:
    """What of the axis' way is over the metal or no more than so far beside it, and its stretches: no disc reaches in
    from farther off, and stretches that go on for ever are long to sort."""
    low, high = np.reshape(scene.room, (2, 2)) + np.array([[-wide], [wide]])
    near = stand.points[np.all((stand.points > low) & (stand.points < high), axis=1)]
    inner = (stand.inner(k, at).within(low[k], high[k]) for k, at in enumerate(scene.scan_lines))
    return replace(stand, points=near), (next(inner), next(inner))


def _covered(stand: Reached, inner: tuple[Lines, Lines], radius: float, at: tuple[Floats, Floats]) -> Known:
    return Known(at, (stand.covered(radius, inner[0], 0, at[0]), stand.covered(radius, inner[1], 1, at[1])))
