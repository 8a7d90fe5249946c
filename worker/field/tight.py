"""What a round cutter leaves of a region: the places that no disc inside the region reaches (mm).

Scan lines some way apart tell where that may be; there, discs about closely spaced points of the borders tell exactly.
Two steps, as the definition has it: where can the axis be (nowhere within the radius of the outside), and what
does the disc then cover.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import OPENING_SLACK
from worker.field.lines import NONE, Floats, Ints, Lines, Mask, spread, subtract, together
from worker.field.plane import FAR, Region, discs, sorted_lines
from worker.field.rows import covered
from worker.field.touching import (
    CORNER_DECIMALS,
    CUSP,
    NO_POINTS,
    PER_RADIUS,
    axis_lines,
    axis_near,
    bends,
    corners,
    ends,
    nearest_two,
    touched_twice,
)

COARSE = 20
MOST_LINES = 4000
"""Scan lines to a radius where corners are looked for, and at most."""
THIN = 2e-3
"""In radii: metal thinner than this, left by a cutter that is barely too large, is not looked for."""
CLOSE_BY = 0.997
"""The same where it rolls over corners that stand out: a low ledge is touched twice in nearly one direction."""
CLOSER = 33
"""Lines to two steps where the border is looked at once more, about points that a cutter touches."""
SLIM = 0.1
"""A cutter slimmer by this share of its radius fits within as much of where it fits itself: a few lines see that."""
TOGETHER = 1.5
"""Suspect places are looked at together up to this size, in radii."""
ASLANT = 2.0
"""A gap of the cutter's own width that runs aslant is seen this far aside on the next line at most, in lines."""
BESIDE = 4.0
"""So far beside such a gap the axis is asked for, in lines."""
ROW = 1 << 31
"""Squares in a row, more than there are."""
ROUNDS = 3
SHARES = np.arange(1, 16) / 16
"""A gap's end is looked for in so many rounds, each at these shares of what is left."""
Box2 = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Place:
    """One box to look at, the border of the region round it and the border of where the axis can be, as points.

    ``squares``: how many left corners it may hold. ``shut``: no cutter gets anywhere near it.
    """

    box: Box2
    border: Floats
    axis: Floats
    squares: int = 1
    shut: bool = False


@dataclass(frozen=True, eq=False)
class Opened:
    """The region less what a disc of that radius cannot cover, within the places."""

    region: Region
    radius: float
    places: tuple[Place, ...]

    @property
    def cornered(self) -> tuple[Place, ...]:
        """The places that a cutter gets near to."""
        return tuple(place for place in self.places if not place.shut)

    @property
    def size(self) -> int:
        """How many points it is told by."""
        return sum(len(place.border) + len(place.axis) for place in self.places)

    def scan(self, along: int, at: Floats) -> Lines:
        """The region's stretches without those that are left."""
        found = self.region.scan(along, at)
        left = [_left(found, place, self.radius, along, at) for place in self.places]
        return sorted_lines(subtract(found, together(left)))


@dataclass(frozen=True, eq=False)
class Nowhere:
    """The empty region."""

    def scan(self, along: int, at: Floats) -> Lines:
        """No stretches."""
        return NONE


def opened(region: Region, radius: float, room: Box2) -> Region:
    """What a disc can cover while it stays inside the region; only within ``room`` (x0, y0, x1, y1) it matters."""
    radius -= OPENING_SLACK
    suspects, any_axis = _suspects(region, radius, room)
    if not any_axis:
        return Nowhere()
    places = [_place(region, radius, one) for one in suspects]
    return Opened(region, radius, tuple(places)) if places else region


@dataclass(frozen=True)
class Suspect:
    """A box that holds places a disc may not reach; how many squares it stands for; whether none gets near it."""

    box: Box2
    squares: int
    shut: bool


def _suspects(region: Region, radius: float, room: Box2) -> tuple[list[Suspect], bool]:
    """Where places are that a disc may not reach, by a few lines to a radius; whether a disc fits anywhere."""
    x0, y0, x1, y1 = room[0] - 2 * radius, room[1] - 2 * radius, room[2] + 2 * radius, room[3] + 2 * radius
    h = max(radius / COARSE, max(x1 - x0, y1 - y0) / MOST_LINES)
    at = (np.arange(y0 + h / 2, y1, h), np.arange(x0 + h / 2, x1, h))
    inside = tuple(region.scan(along, at[along]) for along in (0, 1))
    border = _all_ends(inside, at)
    if not len(border):
        return [], any(len(lines) for lines in inside)
    axis = tuple(axis_lines(inside[along], border, radius, along, at[along]) for along in (0, 1))
    centres = _all_ends(axis, at)
    left = [_far(inside[k], axis[k], centres, radius * (1 + THIN), k, at[k]) for k in (0, 1)]
    points = np.concatenate([_along_lines(left[k], k, at[k], h, room) for k in (0, 1)])
    reached = any(len(lines) for lines in axis)
    if not len(points):
        return [], reached
    boxes = _squares(points, radius, h)
    reach = (1 + SLIM) * radius
    slim = [_beside_boxes(inside[k], border, (1 - SLIM) * radius, k, at[k], boxes, reach) for k in (0, 1)]
    return [Suspect(box, count, _far_off(box, slim, at, reach, (x0, y0, x1, y1))) for box, count in boxes], reached


def _beside_boxes(
    inside: Lines,
    border: Floats,
    radius: float,
    along: int,
    at: Floats,
    boxes: Sequence[tuple[Box2, int]],
    reach: float,
) -> Lines:
    """Where the axis of a cutter can be, on the lines that pass a box within a reach."""
    asked = np.zeros(len(at), bool)
    for box, _ in boxes:
        low, high = np.searchsorted(at, (box[1 - along] - reach, box[3 - along] + reach))
        asked[low:high] = True
    place = np.cumsum(asked) - 1
    here = inside.where(asked[inside.line])
    found = axis_lines(Lines(place[here.line], here.start, here.stop), border, radius, along, at[asked])
    return Lines(np.flatnonzero(asked)[found.line], found.start, found.stop)


def _all_ends(lines: tuple[Lines, ...], at: tuple[Floats, Floats]) -> Floats:
    """Both ends of all stretches both ways (n, 2), but for those that go on for ever."""
    points = np.concatenate([ends(lines[along], along, at[along]) for along in (0, 1)])
    return points[np.all(np.abs(points) < FAR / 2, axis=1)]


def _far_off(box: Box2, axis: Sequence[Lines], at: tuple[Floats, Floats], reach: float, room: Box2) -> bool:
    """Whether all that lines see of an axis in a room lies further than a reach from a box."""
    wide = [max(box[k] - reach, room[k]) for k in (0, 1)], [min(box[k + 2] + reach, room[k + 2]) for k in (0, 1)]
    return not any(_meets(axis[k], k, at[k], *wide) for k in (0, 1))


def _meets(lines: Lines, along: int, at: Floats, low: Sequence[float], high: Sequence[float]) -> bool:
    """Whether some stretch enters a box."""
    first = np.searchsorted(lines.line, np.searchsorted(at, low[1 - along], "right"))
    last = np.searchsorted(lines.line, np.searchsorted(at, high[1 - along]))
    return bool(np.any((lines.stop[first:last] > low[along]) & (lines.start[first:last] < high[along])))


def _far(inside: Lines, axis: Lines, centres: Floats, radius: float, along: int, at: Floats) -> Lines:
    """What of a region lies further than the radius from what the axis can reach."""
    return subtract(subtract(inside, covered(centres[:, along], centres[:, 1 - along], radius, at)), axis)


def _along_lines(lines: Lines, along: int, at: Floats, h: float, room: Box2) -> Floats:
    """Points (n, 2) no more than ``h`` apart along stretches, within a room."""
    start, stop = np.maximum(lines.start, room[along]), np.minimum(lines.stop, room[along + 2])
    across = at[lines.line]
    keep = (stop > start) & (across > room[1 - along]) & (across < room[3 - along])
    start, stop, across = start[keep], stop[keep], across[keep]
    pieces = np.ceil((stop - start) / h).astype(np.int64)
    which, k = spread(np.zeros(len(pieces), np.int64), pieces + 1)
    place = start[which] + (stop - start)[which] * (k / np.maximum(pieces[which], 1))
    return np.stack((place, across[which]) if along == 0 else (across[which], place), axis=1)


def _squares(points: Floats, size: float, h: float) -> list[tuple[Box2, int]]:
    """Boxes round the suspect points of each square, near ones as one, and how many squares each stands for; they
    overlap, so that nothing falls between two."""
    more = 2 * h + size * float(np.sqrt(8 * THIN))  # where a left corner runs out, thinner than was looked for
    _, mine, many = np.unique(np.floor(points / size), axis=0, return_inverse=True, return_counts=True)
    found: list[tuple[Box2, int]] = []
    for some in np.split(points[np.argsort(mine.ravel(), kind="stable")], np.cumsum(many)[:-1]):
        x, y = some.T
        box = (float(x.min() - more), float(y.min() - more), float(x.max() + more), float(y.max() + more))
        found = _with(found, box, TOGETHER * size + 2 * more)
    return found


def _with(boxes: list[tuple[Box2, int]], box: Box2, most: float) -> list[tuple[Box2, int]]:
    """Boxes and one more, joined with those that it meets as long as it grows no larger than that."""
    apart, count = [], 1
    for other, squares in boxes:
        both = (*np.minimum(box[:2], other[:2]).tolist(), *np.maximum(box[2:], other[2:]).tolist())
        meet = all(box[k] <= other[k + 2] and other[k] <= box[k + 2] for k in (0, 1))
        if meet and max(both[2] - both[0], both[3] - both[1]) <= most:
            box, count = both, count + squares
        else:
            apart.append((other, squares))
    return [*apart, (box, count)]


def _place(region: Region, radius: float, suspect: Suspect) -> Place:
    """Points of the border within two radii, and of the axis border within one, of a box."""
    box = suspect.box
    if suspect.shut:
        return Place(box, NO_POINTS, NO_POINTS, suspect.squares, True)
    step = radius / PER_RADIUS
    low, high = np.array(box[:2]), np.array(box[2:])
    far = [np.arange(low[k] - 2 * radius - step, high[k] + 2 * radius + 2 * step, step) for k in (0, 1)]
    border = np.concatenate([ends(region.scan(along, far[1 - along]), along, far[1 - along]) for along in (0, 1)])
    border = border[np.all((border > low - 2.1 * radius) & (border < high + 2.1 * radius), axis=1)]
    points = _axis_points(region, border, radius, box)
    first, second, tight = nearest_two(points, border, radius + 3 * step)
    out = _rolled_over(points, border, first, step)
    spots = np.concatenate((border[first[tight]], border[second[tight]], out))
    if len(spots):  # a corner that stands out between two points of the border lets the cutter sink in too deep
        border = np.concatenate((border, _closer(region, spots, step)))
        points = _axis_points(region, border, radius, box)
    found = [points, bends(region, points, border, radius, step), corners(points, border, radius, step)]
    if len(out):
        found.append(corners(points, border, radius, step, CLOSE_BY))
    return Place(box, border, np.concatenate(found), suspect.squares)


def _rolled_over(axis: Floats, border: Floats, first: Ints, step: float) -> Floats:
    """Points of the border that stand out: a cutter rolls about each, its axis runs on for steps and the point stays
    the nearest. ``first`` is the number of each axis point's nearest one."""
    low, high = np.full((len(border), 2), np.inf), np.full((len(border), 2), -np.inf)
    np.minimum.at(low, first, axis)
    np.maximum.at(high, first, axis)
    return np.asarray(border[(high - low).max(axis=1, initial=-np.inf) > 2 * step])


def _axis_points(region: Region, border: Floats, radius: float, box: Box2) -> Floats:
    """Points of the border of where the axis can be, within a radius of a square."""
    step = radius / PER_RADIUS
    low, high = np.array(box[:2]), np.array(box[2:])
    near = [np.arange(low[k] - radius - step, high[k] + radius + 2 * step, step) + step / 3 for k in (0, 1)]
    axis = []

    def worth(points: Floats) -> Mask:  # a notch between two points of one wall is none
        return touched_twice(points, border, radius + 3 * step)

    for along in (0, 1):
        at = near[1 - along]
        free = axis_lines(region.scan(along, at), border, radius, along, at)
        ended = tips(lambda k, lines, places: _axis(region, border, radius, k, lines, places), free, along, at, worth)
        axis += [ends(free, along, at), ended]
    points = np.concatenate(axis)
    return points[np.all((points > low - 1.1 * radius) & (points < high + 1.1 * radius), axis=1)]


def tips(
    scan: Callable[[int, Floats, Floats], Lines],
    free: Lines,
    along: int,
    at: Floats,
    worth: Callable[[Floats], Mask] | None = None,
) -> Floats:
    """Where a gap of the cutter's own width ends, between the last line that sees the axis there and the next one.

    ``scan``: the stretches on lines, of each but those near a place along it are asked for. ``worth``: which points
    (n, 2) on a last line are to be followed at all.
    """
    sure, beyond, place = np.concatenate([_last_seen(free, at, step) for step in (-1, 1)]).T
    if worth is not None:
        kept = worth(_points(place, sure, along))
        sure, beyond, place = sure[kept], beyond[kept], place[kept]
    for _ in range(ROUNDS if len(sure) else 0):
        between = sure[:, None] + (beyond - sure)[:, None] * SHARES
        order = np.argsort(between, axis=None, kind="stable")
        places = np.repeat(place, len(SHARES))[order]
        seen = scan(along, between.ravel()[order], places)
        near = np.abs((seen.start + seen.stop) / 2 - places[seen.line]) < abs(at[1] - at[0])
        there = np.zeros(between.size, bool)
        there[order[seen.line[near]]] = True
        last = np.logical_and.accumulate(there.reshape(between.shape), axis=1).sum(axis=1)
        every = np.concatenate((sure[:, None], between, beyond[:, None]), axis=1)
        sure, beyond = every[np.arange(len(sure)), last], every[np.arange(len(sure)), last + 1]
    return _points(place, sure, along)


def _last_seen(free: Lines, at: Floats, step: int) -> Floats:
    """Narrow stretches that do not go on to the next line: their line's place, the next one's, their middle (n, 3)."""
    h = np.ptp(at) / len(at)
    narrow = free.where((free.stop - free.start < h) & ~_goes_on(free, free, step))
    gaps = free.where(free.stop - free.start < h)
    ends = narrow.where(~_goes_on(narrow, gaps, step, ASLANT * h))
    ends = ends.where((ends.line + step >= 0) & (ends.line + step < len(at)))
    return np.stack((at[ends.line], at[ends.line + step], (ends.start + ends.stop) / 2), axis=1)


def _points(places: Floats, across: Floats, along: int) -> Floats:
    return np.stack((places, across) if along == 0 else (across, places), axis=1)


def _axis(region: Region, border: Floats, radius: float, along: int, at: Floats, places: Floats) -> Lines:
    """Where the axis can be near a place along each line."""
    off = BESIDE * radius / PER_RADIUS
    return axis_near(region.scan(along, at), border, radius, along, at, (places - off, places + off))


def _goes_on(lines: Lines, others: Lines, step: int, aside: float = 0.0) -> Mask:
    """Which stretches have one of the others beside them on the next line up or down, or so far aside at most."""
    span = 4 * FAR
    stops, starts = others.line * span + others.stop, others.line * span + others.start
    first = np.searchsorted(stops, (lines.line + step) * span + lines.start - aside, side="left")
    last = np.searchsorted(starts, (lines.line + step) * span + lines.stop + aside, side="right")
    return np.asarray(last > first)


def _closer(region: Region, points: Floats, step: float) -> Floats:
    """Points of the border within about a step of known ones, on lines much closer to each other."""
    found = [np.zeros((0, 2))]
    spots = np.asarray(np.unique(np.round(points / step).astype(np.int64), axis=0) * step, np.float64)
    around = np.concatenate([_cells(spots, step) + a * ROW + b for a in (-1, 0, 1) for b in (-1, 0, 1)])
    for along in (0, 1):
        at = np.unique(np.round(spots[:, 1 - along, None] + step * np.linspace(-1, 1, CLOSER), CORNER_DECIMALS))
        ends_here = ends(region.scan(along, at), along, at)
        found.append(ends_here[np.isin(_cells(ends_here, step), around)])
    return np.concatenate(found)


def _cells(points: Floats, step: float) -> Ints:
    """The number of the square that each point (n, 2) lies in."""
    cells = np.round(points / step).astype(np.int64)
    return np.asarray(cells[:, 0] * ROW + cells[:, 1])


def _left(found: Lines, place: Place, radius: float, along: int, at: Floats) -> Lines:
    """The stretches within a place that no disc about an axis position covers."""
    here = _within(found, place, along, at)
    if place.shut:
        return here
    return left_beside(here, place, radius, axis_lines(here, place.border, radius, along, at), along, at)


def axis_within(found: Lines, place: Place, radius: float, along: int, at: Floats) -> Lines:
    """Where the axis can be of stretches within a place."""
    return axis_lines(_within(found, place, along, at), place.border, radius, along, at)


def left_beside(found: Lines, place: Place, radius: float, axis: Lines, along: int, at: Floats) -> Lines:
    """What of stretches within a place lies neither where the axis can be nor in a disc about a point of its border."""
    here = _within(found, place, along, at)
    if not len(here):
        return NONE
    covered = discs(place.axis[:, along], place.axis[:, 1 - along], max(radius, 0.0) * (1 + CUSP), at)
    return subtract(subtract(here, covered), axis)


def _within(found: Lines, place: Place, along: int, at: Floats) -> Lines:
    """What of stretches lies within a place's square."""
    low, high = place.box[along], place.box[along + 2]
    across = (at[found.line] >= place.box[1 - along]) & (at[found.line] <= place.box[3 - along])
    here = found.where(across & (found.stop > low) & (found.start < high))
    return Lines(here.line, np.maximum(here.start, low), np.minimum(here.stop, high))
