"""Cutters that undercut: a wide head on a thin neck that travels beneath what stands above it (setup's frame, mm).

Where the axis may stand: the head clear of the part's sections at its own heights, neck and shank clear of all that
stands above them, the head inside the ground; and only where it can come from outside the metal or from straight above.
The head takes what its disc covers from there at each height; neck and shank take nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from schemas.feature import Feature
from schemas.tolerances import COINCIDENT, LENGTH, OPENING_SLACK
from schemas.tool import Tool
from worker.field.arcs import followed_section
from worker.field.ground import recess_ground
from worker.field.lines import Floats, Lines, intersect, subtract, together, union
from worker.field.plane import (
    FAR,
    Everywhere,
    Grown,
    Known,
    Outlined,
    Region,
    Shadow,
    Sided,
    components,
    discs,
    meets,
    sorted_lines,
)
from worker.field.scene import UPRIGHT, Scene
from worker.field.solids import Layer, Stack
from worker.field.tight import ends, tips
from worker.stage.model import Cut

PER_RADIUS = 40
LINES = 1500
"""Scan lines to the head's radius where its axis is looked for, and at most."""
BARS = 9
"""Heights at which the part's sections bar the head."""
BENDS = 16
"""Layers of a rounded edge; a dovetail's flank has twice as many."""
CONSTANT = 0.02
"""Sections whose outlines' boxes and lengths differ less than this are one (mm)."""
STAIRS = 4
"""Layers stand in stairs where the head is bent: no more than a quarter of each step lies on either side."""


def undercut(scene: Scene, cut: Cut, feature: Feature) -> list[Stack] | None:
    """What the head takes; None where the field cannot say: stated depths, side allowances, many tips at bent walls."""
    step, tool = cut.step, cut.tool
    floors = scene.up_of(feature)
    if step.bottom_z is not None or step.allowance_side or tool.APMX is None or not len(floors):
        return None
    low = float(floors[:, :, 2].min()) + step.allowance_bottom
    roof, bent = _roof(scene, feature), tool.corner_radius > COINCIDENT or tool.type == "dovetail_mill"
    room = roof - low - tool.APMX
    if room < -LENGTH:
        return []
    heights = np.linspace(low, low + tool.APMX if bent else roof, BARS + 2)[1:-1]
    sections = [Outlined(followed_section(scene.part, scene.owner, z)) for z in heights]
    bent = bent or not all(_same(sections[0].sides, s.sides) for s in sections)
    if bent and room > LENGTH:
        return None
    stand = _stand(scene, tool, low, heights if bent else heights[:1], sections if bent else sections[:1], floors)
    if stand is None:
        return None
    return [_swept(scene, tool, low, roof, stand, bent)]


def head_radius(tool: Tool, h: float) -> float:
    """Radius of the head at a height above the tip: edges rounded by RE; a dovetail's flank from its sharp corner."""
    corner, height = tool.corner_radius, tool.APMX or 0.0
    if tool.type != "dovetail_mill":
        near = min(h, height - h)
        return tool.radius - (corner - math.sqrt(max(corner**2 - (corner - near) ** 2, 0.0)) if near < corner else 0.0)
    flank = math.radians(min(tool.KAPR or 90.0, 180.0 - (tool.KAPR or 90.0)))
    touch = corner / math.tan(flank / 2)
    if h < touch * math.sin(flank):
        return tool.radius - touch + math.sqrt(max(corner**2 - (corner - h) ** 2, 0.0))
    return tool.radius - h / math.tan(flank)


def _roof(scene: Scene, feature: Feature) -> float:
    """The highest face that looks straight down, else the feature's top."""
    mine = scene.part[scene.of(feature)]
    down = mine[scene.looks[scene.of(feature)] < UPRIGHT - 1]
    return float((down if len(down) else mine)[:, :, 2].max())


def _same(a: Floats, b: Floats) -> bool:
    """True when two outlines have the same length and box."""
    if not len(a) or not len(b):
        return len(a) == len(b)
    sizes = [np.append(np.concatenate((s.min(axis=(0, 1)), s.max(axis=(0, 1)))), _length(s)) for s in (a, b)]
    return bool(np.abs(sizes[0] - sizes[1]).max() < CONSTANT)


def _length(sides: Floats) -> float:
    return float(np.hypot(*(sides[:, 1] - sides[:, 0]).T).sum())


@dataclass(frozen=True, eq=False)
class Standing:
    """Where the axis may stand: the ground but for its border's discs, and what is grown by each radius."""

    ground: Region
    border: Floats
    radius: float
    barred: tuple[Grown, ...]

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
        near = union(discs(self.points[:, along], self.points[:, 1 - along], 2 * self.step, at))
        found = self.standing.scan(along, at)
        return found.where(meets(found, near))

    def covered(self, radius: float, inner: Lines, along: int, at: Floats) -> Lines:
        """What a disc about all these places covers."""
        return union(together([inner, discs(self.points[:, along], self.points[:, 1 - along], radius, at)]))


def _stand(
    scene: Scene, tool: Tool, low: float, heights: Floats, sections: list[Outlined], floors: Floats
) -> Reached | None:
    """Where the axis gets to at the lowest tip; None without a ground."""
    below = Outlined(followed_section(scene.part, scene.owner, float(floors[:, :, 2].min()) + LENGTH))
    ground = recess_ground(floors, lambda z: below)
    if ground is None:
        return None
    bars = _barred(scene, tool, low, heights, sections)
    at = _lines(scene, tool.radius)
    step = tool.radius / PER_RADIUS
    border = np.concatenate([ends(ground.scan(k, at[k]), k, at[k]) for k in (0, 1)])
    border = border[np.all(np.abs(border) < FAR / 100, axis=1)]
    inside = Standing(ground, border, tool.radius - OPENING_SLACK, bars)
    free = Standing(Everywhere(), border[:0], 0.0, bars)
    above = Grown(scene.shadow(low + COINCIDENT), tool.radius - OPENING_SLACK)
    points = []
    for k in (0, 1):
        mine = _entered(free.scan(k, at[k]), above, k, at[k])
        here = sorted_lines(intersect(inside.scan(k, at[k]), mine))
        points += [ends(here, k, at[k]), tips(inside.scan, here, k, at[k])]
    return Reached(np.clip(np.concatenate(points), -FAR / 100, FAR / 100), inside, step)


def _barred(scene: Scene, tool: Tool, low: float, heights: Floats, sections: list[Outlined]) -> tuple[Grown, ...]:
    """Sections by the head's radius at their heights, and all above neck and shank by theirs; fixtures likewise."""
    slack = OPENING_SLACK
    straight = len(heights) == 1
    bars = [
        Grown(s, (tool.radius if straight else head_radius(tool, z - low)) - slack)
        for z, s in zip(heights.tolist(), sections, strict=True)
        if len(s.sides)
    ]
    top, shank = low + (tool.APMX or 0.0), low + tool.usable_length
    for z, radius in ((top, tool.neck_diameter / 2), (shank, tool.shank_diameter / 2)):
        found: list[Sided] = [scene.shadow(z + COINCIDENT)]
        if len(scene.held_up):
            found.append(Shadow(scene.held_up, z + COINCIDENT))
        bars += [Grown(s, radius - slack) for s in found if len(s.sides)]
    return tuple(bars)


def _lines(scene: Scene, radius: float) -> tuple[Floats, Floats]:
    """Scan lines over the metal, so far round it that a head passes outside, and through the axes of round walls."""
    x0, y0, x1, y1 = scene.room
    step = max(radius / PER_RADIUS, (max(x1 - x0, y1 - y0) + 6 * radius) / LINES)
    more, centres = 3 * radius, np.unique(np.round(scene.chords.circles[:, :2], 7), axis=0)
    found = [np.arange(low - more, high + more, step) + step / 3 for low, high in ((y0, y1), (x0, x1))]
    ys, xs = (np.unique(np.concatenate((at, centres[:, k]))) for at, k in zip(found, (1, 0), strict=True))
    return ys, xs


def _entered(free: Lines, above: Grown, along: int, at: Floats) -> Lines:
    """Stretches that hang together with the outside, or with a place over which nothing stands."""
    if not len(free):
        return free
    everything = Lines(np.arange(len(at)), np.full(len(at), -FAR), np.full(len(at), FAR))
    open_above = sorted_lines(subtract(everything, above.scan(along, at)))
    names = components(free)
    outside = (free.start <= -FAR) | (free.stop >= FAR) | meets(free, open_above)
    return free.where(np.isin(names, np.unique(names[outside])))


def _swept(scene: Scene, tool: Tool, low: float, roof: float, stand: Reached, bent: bool) -> Stack:
    """A layer for each height of the head at which its radius is another."""
    at = scene.scan_lines
    inner = stand.inner(0, at[0]), stand.inner(1, at[1])
    if not bent:
        layer = Layer(low, roof, _covered(stand, inner, tool.radius, at))
        return Stack(scene.view, (layer,), (layer,))
    bends = list(pairwise(_bends(tool).tolist()))
    known = [_covered(stand, inner, head_radius(tool, (a + b) / 2), at) for a, b in bends]
    layers = [Layer(low + a, low + b, region) for (a, b), region in zip(bends, known, strict=True)]
    zs = scene.view.middles(scene.lattice, 2)
    zs = zs[(zs > low) & (zs < low + (tool.APMX or 0.0))]
    slices = [Layer(z - LENGTH, z + LENGTH, _covered(stand, inner, head_radius(tool, z - low), at)) for z in zs]
    sizes = [region.lines[0].total(np.gradient(at[0])) for region in known]
    steps = [abs(b - a) * (s.high - s.low) for (a, b), s in zip(pairwise(sizes), layers, strict=False)]
    return Stack(scene.view, tuple(layers), tuple(slices), stairs=sum(steps) / STAIRS)


def _covered(stand: Reached, inner: tuple[Lines, Lines], radius: float, at: tuple[Floats, Floats]) -> Known:
    return Known(at, (stand.covered(radius, inner[0], 0, at[0]), stand.covered(radius, inner[1], 1, at[1])))


def _bends(tool: Tool) -> Floats:
    """Heights between which the head's radius hardly changes: closer together where its edges are round."""
    height, corner = tool.APMX or 0.0, min(tool.corner_radius, (tool.APMX or 0.0) / 2)
    if tool.type == "dovetail_mill":
        return np.linspace(0.0, height, 2 * BENDS + 1)
    edge = corner * (1 - np.cos(np.linspace(0.0, math.pi / 2, BENDS + 1)))
    return np.unique(np.concatenate((edge, height - edge)))
