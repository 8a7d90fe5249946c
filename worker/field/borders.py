"""Borders that a cutter keeps off: sides of shadows, and of the ground itself where no wall stands (mm).

What a cutter with a round corner leaves at a height depends on how far a place lies from them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.field.inset import SAME, inset
from worker.field.lines import Floats, Lines, Mask, subtract
from worker.field.plane import (
    Bordered,
    Disc,
    Filled,
    Grown,
    Join,
    Minus,
    Outline,
    Region,
    Remembered,
    Shadow,
    Shrunk,
    beads,
)
from worker.field.tight import Box2

PIECE = 0.5
"""Sides of a ground are looked at in pieces no longer than this (mm)."""
BESIDE = 2e-3
"""How far beside a side (mm) it is looked whether the ground, or a wall, is there: beyond the chords of arcs."""
SAGITTA = 2e-5
NOTHING = np.zeros((0, 3, 3))
TILE = 2.0
"""Points are compared with the sides near a square of this size (mm) or of the reach."""


@dataclass(frozen=True, eq=False)
class Border:
    """Line segments (n, 2, 2), and how far off them the ground begins."""

    sides: Floats
    grown: float = 0.0


def borders_of(free: Minus, room: Box2, reach: float, lines: Floats) -> tuple[Border, ...]:
    """The borders of a ground less what stands in it, as far as they lie within a reach of a room.

    ``lines``: y of scan lines dense enough to tell how the ground hangs together.
    """
    ground = free.a.region if isinstance(free.a, Remembered) else free.a
    standing = [Border(_near(b.sides, room, reach + b.grown), b.grown) for b in _of_shadows(free.b)]
    own = _pieces(_near(_of_ground(ground), room, reach))
    left, right = _bare(own, free, lines)
    found = [*standing, Border(own[left | right])]
    return tuple(b for b in found if len(b.sides))


def bordered(ground: Region, room: Box2, reach: float, lines: Floats) -> Bordered:
    """A ground with its own border, on its left, as far as it lies within a reach of a room."""
    pieces = _pieces(_near(_of_ground(ground), room, reach))
    left, right = _bare(pieces, Minus(ground, Shadow(NOTHING)), lines)
    return Bordered(ground, _each_once(np.concatenate((pieces[left], pieces[right & ~left, ::-1]))))


def _of_shadows(region: Region) -> list[Border]:
    if isinstance(region, Join):
        return [b for part in region.parts for b in _of_shadows(part)]
    if isinstance(region, Grown):
        return [Border(region.shadow.sides, region.amount)]
    if isinstance(region, Shrunk):
        return [Border(_moved(region.shadow.sides, region.amount))]
    return [Border(region.sides)] if isinstance(region, Shadow) else []


def _of_ground(region: Region) -> Floats:
    """All sides that may be the ground's, also such as only parts of it have."""
    if isinstance(region, Join):
        return np.concatenate([_of_ground(part) for part in region.parts])
    if isinstance(region, Minus):
        return np.concatenate((_of_ground(region.a), _of_ground(region.b)))
    if isinstance(region, Filled):
        return _of_ground(region.region)
    if isinstance(region, Disc):
        return _round(region)
    if isinstance(region, Grown):
        return _moved(region.shadow.sides[:, ::-1], region.amount)
    return region.sides if isinstance(region, (Shadow, Outline)) else np.zeros((0, 2, 2))


def _moved(sides: Floats, amount: float) -> Floats:
    """Sides moved to their left."""
    return inset(sides, amount, lambda points, reach: distances(points, (Border(sides),), reach))


def _round(disc: Disc) -> Floats:
    count = int(np.ceil(np.pi / np.arccos(1 - SAGITTA / max(disc.radius, 10 * SAGITTA))))
    turns = np.linspace(0.0, 2 * np.pi, count + 1)
    points = np.stack((disc.x + disc.radius * np.cos(turns), disc.y + disc.radius * np.sin(turns)), axis=1)
    return np.stack((points[:-1], points[1:]), axis=1)


def _near(sides: Floats, room: Box2, reach: float) -> Floats:
    """What of the sides lies within a rectangle grown by a reach; sides along a line outside it are left out."""
    low, high = np.array(room[:2]) - reach, np.array(room[2:]) + reach
    a, d = sides[:, 0], sides[:, 1] - sides[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (low - a) / d, (high - a) / d
    flat = d == 0
    inside = (a >= low) & (a <= high)
    enter = np.where(flat, np.where(inside, -np.inf, np.inf), np.minimum(first, second)).max(axis=1, initial=0.0)
    leave = np.where(flat, np.where(inside, np.inf, -np.inf), np.maximum(first, second)).min(axis=1, initial=1.0)
    keep = enter < leave
    a, d, ends = a[keep], d[keep], np.stack((enter[keep], leave[keep]), axis=1)
    return np.asarray(a[:, None] + ends[..., None] * d[:, None])


def _pieces(sides: Floats) -> Floats:
    """Sides in pieces that are short enough to be looked at in their middles."""
    sizes = np.hypot(*(sides[:, 1] - sides[:, 0]).T)
    counts = np.maximum(np.ceil(sizes / PIECE), 1).astype(np.int64)
    which = np.repeat(np.arange(len(sides)), counts)
    k = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    shares = np.stack((k, k + 1), axis=1) / counts[which][:, None]
    way = sides[which, 1] - sides[which, 0]
    return np.asarray(sides[which, :1] + shares[..., None] * way[:, None])


def _each_once(sides: Floats) -> Floats:
    """Sides without those that are told more than once."""
    return sides[np.sort(np.unique(np.round(sides.reshape(-1, 4) / SAME), axis=0, return_index=True)[1])]


def _bare(pieces: Floats, free: Minus, lines: Floats) -> tuple[Mask, Mask]:
    """Which pieces have the ground on their left, or on their right, and on the other neither it nor what stands."""
    way = pieces[:, 1] - pieces[:, 0]
    size = np.maximum(np.hypot(*way.T), 1e-12)[:, None]
    across = BESIDE * np.stack((-way[:, 1], way[:, 0]), axis=1) / size
    middle = pieces.mean(axis=1)
    both = np.concatenate((middle + across, middle - across))
    ground, standing = (_held(region, both, lines) for region in (free.a, free.b))
    left, right = np.split(ground, 2)
    open_left, open_right = np.split(~ground & ~standing, 2)
    return np.asarray(left & open_right), np.asarray(right & open_left)


def _held(region: Region, points: Floats, lines: Floats) -> Mask:
    """Which points a region holds."""
    at = np.unique(np.concatenate((points[:, 1], lines)))
    found = region.scan(0, at)
    span = 4e6
    starts, stops = found.line * span + found.start, found.line * span + found.stop
    place = np.searchsorted(at, points[:, 1]) * span + points[:, 0]
    return np.asarray(np.searchsorted(starts, place) > np.searchsorted(stops, place))


def off(lines: Lines, borders: tuple[Border, ...], amount: float, along: int, at: Floats) -> Lines:
    """What of stretches lies further than an amount off all borders."""
    for border in borders:
        lines = subtract(lines, beads(border.sides, border.grown + amount, along, at))
    return lines


def distances(points: Floats, borders: tuple[Border, ...], reach: float) -> Floats:
    """How far each point (n, 2) lies off the nearest border, ``reach`` at most."""
    found = np.full(len(points), reach)
    if not len(points):
        return found
    size = max(reach, TILE)
    tiles, mine = np.unique(np.floor(points / size), axis=0, return_inverse=True)
    order = np.argsort(mine.ravel(), kind="stable")
    stops = np.cumsum(np.bincount(mine.ravel(), minlength=len(tiles)))
    for border in borders:
        low, high = border.sides.min(axis=1), border.sides.max(axis=1)
        for tile, some in zip(tiles * size, np.split(order, stops[:-1]), strict=True):
            far = reach + border.grown
            close = np.all((low < tile + size + far) & (high > tile - far), axis=1)
            if close.any():
                away = _from_sides(points[some], border.sides[close]) - border.grown
                found[some] = np.minimum(found[some], away)
    return found


def _from_sides(points: Floats, sides: Floats) -> Floats:
    """Distance of each point from the nearest segment."""
    a, d = sides[:, 0], sides[:, 1] - sides[:, 0]
    gap = points[:, None] - a[None]
    size = np.maximum(np.sum(d * d, axis=1), 1e-24)
    share = np.clip(np.sum(gap * d[None], axis=2) / size, 0.0, 1.0)
    gap -= share[..., None] * d[None]
    return np.asarray(np.sqrt(np.min(np.sum(gap * gap, axis=2), axis=1)))
