"""What a round cutter leaves of a region: the places that no disc inside the region reaches (mm).

A coarse grid tells where that may be; there, discs about closely spaced points of the borders tell exactly.
Two steps, as the definition has it: where can the axis be (nowhere within the radius of the outside), and what
does the disc then cover.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from schemas.tolerances import MESH
from worker.field.lines import NONE, Floats, Lines, Mask, subtract, together
from worker.field.plane import Region, discs, sorted_lines
from worker.field.surface import spread
from worker.reach.distance import distance

COARSE_CELLS = 90_000
COARSE = 0.25
"""Cells of the searching grid at most, and their size at least (mm)."""
SUSPECT = 0.5
"""In coarse cells: a place this little nearer to an axis position than the radius may still be left."""
DOUBT = 0.75
"""In coarse cells: how far a distance on the searching grid can be off; a slot this near to the cutter is looked at."""
SLACK = MESH
"""A cutter is taken this much smaller (mm), so that one as wide as its slot fits between chords."""
PER_RADIUS = 48
"""Scan lines within one radius where a place is looked at closely."""
Box2 = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Place:
    """One square to look at, the border of the region round it and the border of where the axis can be, as points."""

    box: Box2
    border: Floats
    axis: Floats


@dataclass(frozen=True, eq=False)
class Opened:
    """The region less what a disc of that radius cannot cover, within the places."""

    region: Region
    radius: float
    places: tuple[Place, ...]

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
    radius -= SLACK
    suspects, any_axis = _suspects(region, radius, room)
    if not any_axis:
        return Nowhere()
    places = [_place(region, radius, box) for box in suspects]
    return Opened(region, radius, tuple(places)) if places else region


def _suspects(region: Region, radius: float, room: Box2) -> tuple[list[Box2], bool]:
    """Squares of a coarse grid that hold places a disc may not reach; whether a disc fits anywhere."""
    x0, y0, x1, y1 = room[0] - 2 * radius, room[1] - 2 * radius, room[2] + 2 * radius, room[3] + 2 * radius
    h = max(COARSE, float(np.sqrt((x1 - x0) * (y1 - y0) / COARSE_CELLS)))
    xs, ys = np.arange(x0 + h / 2, x1, h), np.arange(y0 + h / 2, y1, h)
    inside = _mask(region, xs, ys)
    if inside.all():
        return [], True
    clearance = distance(~inside, h, radius + h)
    axis, sure = inside & (clearance >= radius - DOUBT * h), inside & (clearance >= radius + DOUBT * h)
    left = inside & (distance(axis, h, radius + h) > radius - SUSPECT * h)
    left |= inside & (distance(sure, h, radius + 4 * h) > radius + (SUSPECT + 2 * DOUBT) * h)
    left &= ((ys > room[1]) & (ys < room[3]))[:, None] & ((xs > room[0]) & (xs < room[2]))[None, :]
    return list(_squares(left, xs, ys, radius, h)), bool(axis.any())


def _mask(region: Region, xs: Floats, ys: Floats) -> Mask:
    lines = region.scan(0, ys)
    span, column = spread(np.searchsorted(xs, lines.start), np.searchsorted(xs, lines.stop))
    mask = np.zeros((len(ys), len(xs)), bool)
    mask[lines.line[span], column] = True
    return mask


def _squares(left: Mask, xs: Floats, ys: Floats, size: float, h: float) -> Iterable[Box2]:
    """Boxes round the suspect cells of each square; they overlap, so that nothing falls between two."""
    rows, columns = np.nonzero(left)
    names = np.unique(np.stack((xs[columns] // size, ys[rows] // size), axis=1), axis=0)
    for name in names:
        mine = (xs[columns] // size == name[0]) & (ys[rows] // size == name[1])
        x, y = xs[columns[mine]], ys[rows[mine]]
        yield (
            float(x.min()) - 2 * h,
            float(y.min()) - 2 * h,
            float(x.max()) + 2 * h,
            float(y.max()) + 2 * h,
        )


def _place(region: Region, radius: float, box: Box2) -> Place:
    """Points of the border within two radii, and of the axis border within one, of a square."""
    step = radius / PER_RADIUS
    low, high = np.array(box[:2]), np.array(box[2:])
    far = [np.arange(low[k] - 2 * radius - step, high[k] + 2 * radius + 2 * step, step) for k in (0, 1)]
    border = np.concatenate([_ends(region.scan(along, far[1 - along]), along, far[1 - along]) for along in (0, 1)])
    border = border[np.all((border > low - 2.1 * radius) & (border < high + 2.1 * radius), axis=1)]
    near = [np.arange(low[k] - radius - step, high[k] + radius + 2 * step, step) + step / 3 for k in (0, 1)]
    axis = []
    for along in (0, 1):
        at = near[1 - along]
        free = _axis_lines(region.scan(along, at), border, radius, along, at)
        axis.append(_ends(free, along, at))
    points = np.concatenate(axis)
    return Place(box, border, points[np.all((points > low - 1.1 * radius) & (points < high + 1.1 * radius), axis=1)])


def _axis_lines(inside: Lines, border: Floats, radius: float, along: int, at: Floats) -> Lines:
    """Where the axis can be: inside, and no nearer than the radius to the border."""
    return sorted_lines(subtract(inside, discs(border[:, along], border[:, 1 - along], radius, at)))


def _ends(lines: Lines, along: int, at: Floats) -> Floats:
    """Both ends of all stretches as points (n, 2)."""
    places, across = np.concatenate((lines.start, lines.stop)), np.concatenate((at[lines.line], at[lines.line]))
    return np.stack((places, across) if along == 0 else (across, places), axis=1)


def _left(found: Lines, place: Place, radius: float, along: int, at: Floats) -> Lines:
    """The stretches within a place that no disc about an axis position covers."""
    low, high = place.box[along], place.box[along + 2]
    across = (at[found.line] >= place.box[1 - along]) & (at[found.line] <= place.box[3 - along])
    here = found.where(across & (found.stop > low) & (found.start < high))
    here = Lines(here.line, np.maximum(here.start, low), np.minimum(here.stop, high))
    if not len(here):
        return NONE
    covered = discs(place.axis[:, along], place.axis[:, 1 - along], radius, at)
    return subtract(subtract(here, covered), _axis_lines(here, place.border, radius, along, at))
