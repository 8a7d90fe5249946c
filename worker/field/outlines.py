"""The outline of what triangles cover, seen along z: their sides without those that two of them share (mm).

All triangles look up, so each runs counter-clockwise and a point is covered where the outline winds round it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.lines import NONE, Floats, Ints, Lines, Mask, of_crossings, spread, together

GRID = 1e-5
"""Corners this near to each other are one."""
CONSTANT = 0.02
"""Sections whose outlines differ less than this are one (mm)."""


@dataclass(frozen=True, eq=False)
class Sides:
    """Sides (n, 2, 2), each the short arc of a circle (x, y, r), straight where r is 0."""

    ends: Floats
    circles: Floats


@dataclass(frozen=True, eq=False)
class Borders:
    """Sides that an outline may have, one for each place and height of the lower end.

    ``sides`` are told from one end to the other (n); ``place`` is the same for sides with the same ends; ``turns`` is
    how many more triangles have it on their left than on their right.
    """

    sides: Sides
    place: Ints
    low: Floats
    turns: Ints

    def above(self, height: float) -> Sides:
        """Those that more triangles above a height have on one side than on the other, as often (m)."""
        over = np.flatnonzero(self.low > height)
        if not len(over):
            return Sides(np.zeros((0, 2, 2)), np.zeros((0, 3)))
        turns = np.bincount(self.place[over], self.turns[over]).astype(np.int64)
        first = np.zeros(len(turns), np.int64)
        first[self.place[over]] = over  # any of them: they have the same ends
        left = np.flatnonzero(turns)
        forward, backward = (first[np.repeat(left, np.maximum(sign * turns[left], 0))] for sign in (1, -1))
        ends, circles = self.sides.ends, self.sides.circles
        both = np.concatenate((forward, backward))
        return Sides(np.concatenate((ends[forward], ends[backward, ::-1])), circles[both])


@dataclass(frozen=True, eq=False)
class Facets:
    """Triangles (n, 3, 3) that look up; ``on`` (n, 3): which of some circles (x, y, r) each side is an arc of, -1 for
    none."""

    triangles: Floats
    on: Ints | None = None
    circles: Floats | None = None

    @cached_property
    def _welded(self) -> tuple[Floats, Ints, Floats]:
        """Triangles with equal corners made the same, a name for each corner (n, 3), and the place of each name."""
        points = self.triangles[:, :, :2].reshape(-1, 2)
        cells = np.round(points / GRID).astype(np.int64)
        codes = cells[:, 0] * 3_000_000_019 + cells[:, 1]
        _, first, name = np.unique(codes, return_index=True, return_inverse=True)
        corner = name.reshape(-1, 3)
        same = self.triangles.copy()
        same[:, :, :2] = points[first[corner]]
        return same, corner, points[first]

    @cached_property
    def _borders(self) -> Borders:
        """All sides without those on which, from one height up, as many triangles lie on the left as on the right."""
        triangles, corner, points = self._welded
        a, b, z = corner.ravel(), corner[:, (1, 2, 0)].ravel(), triangles[:, :, 2]
        keys, low = np.minimum(a, b) * len(points) + np.maximum(a, b), np.minimum(z, z[:, (1, 2, 0)]).ravel()
        some = _unpaired(keys, low, b > a)
        some = some[np.lexsort((low[some], keys[some]))]
        keys, low, way = keys[some], low[some], np.sign(b - a)[some]
        begins = np.flatnonzero(_changes(keys) | _changes(low))
        turns = np.add.reduceat(way, begins) if len(begins) else way
        begins, turns = begins[turns != 0], turns[turns != 0]
        place = np.cumsum(_changes(keys[begins])) - 1
        ends = np.stack(np.divmod(keys[begins], max(len(points), 1)), axis=1)
        return Borders(Sides(points[ends], self._circles(some[begins])), place, low[begins], turns)

    def _circles(self, sides: Ints) -> Floats:
        """The circle (n, 3) of each of some sides, by its number among all."""
        if self.on is None or self.circles is None or not len(self.circles):
            return np.zeros((len(sides), 3))
        on = self.on.ravel()[sides]
        return np.where(on[:, None] >= 0, self.circles[on], 0.0)

    @cached_property
    def _heights(self) -> tuple[Floats, Floats]:
        """The lowest and the highest corner of each triangle."""
        z = self.triangles[:, :, 2]
        return z.min(axis=1), z.max(axis=1)

    def sides(self, above: float) -> Sides:
        """The outline's sides of what of the triangles lies above a height."""
        low, high = self._heights
        passing, whole = (low <= above) & (high > above), self._borders.above(above)
        if not passing.any():
            return whole
        part = self._welded[0][passing]
        cut = _clipped(part, part[:, :, 2] > above, above)
        return Sides(np.concatenate((whole.ends, cut)), np.concatenate((whole.circles, np.zeros((len(cut), 3)))))


def _unpaired(keys: Ints, low: Floats, forward: Mask) -> Ints:
    """All but those of which just two are alike and run opposite ways: the inside of faces."""
    order = np.argsort(keys)
    begins = np.flatnonzero(_changes(keys[order]))
    first = begins[np.diff(np.append(begins, len(keys))) == 2]
    one, other = order[first], order[first + 1]
    paired = first[(low[one] == low[other]) & (forward[one] != forward[other])]
    kept = np.ones(len(keys), bool)
    kept[order[paired]] = kept[order[paired + 1]] = False
    return np.flatnonzero(kept)


def _changes(values: Ints | Floats) -> Mask:
    """Where a value is another than the one before it."""
    return np.concatenate(([True], values[1:] != values[:-1]))[: len(values)]


def _clipped(triangles: Floats, over: Mask, above: float) -> Floats:
    """Of triangles that are partly above: the pieces of their sides that are, and the line in which they pass it."""
    found = [np.zeros((0, 2, 2))]
    for k in range(3):
        at, rises, falls = _passing(triangles, over, above, k)
        a, b = triangles[:, k, :2], triangles[:, (k + 1) % 3, :2]
        found += [np.stack((at, b), axis=1)[rises], np.stack((a, at), axis=1)[falls]]
    return np.concatenate([_unshared(np.concatenate(found)), section(triangles, above)])


def _unshared(sides: Floats) -> Floats:
    """Sides (n, 2, 2) without those that are told there and back to the last bit, which no line ever tells apart: where
    a slanting plane is cut its triangles share fans of sides right across it.
    """
    (x, y), (u, v) = sides[:, 0].T, sides[:, 1].T
    back = (u < x) | ((u == x) & (v < y))
    rows = np.where(back[:, None, None], sides[:, ::-1], sides).reshape(-1, 4)
    order = np.lexsort(rows.T)
    alike = np.concatenate(([False], np.all(rows[order][1:] == rows[order][:-1], axis=1)))[: len(rows)]
    place = np.empty(len(rows), np.int64)
    place[order] = np.cumsum(~alike) - 1
    turns = np.bincount(place, np.where(back, -1, 1))
    return np.asarray(sides[turns[place] != 0])


def _passing(triangles: Floats, over: Mask, z: float, k: int) -> tuple[Floats, Mask, Mask]:
    """Where side ``k`` of each triangle passes a height (n, 2), whether it rises there and whether it falls."""
    a, b = triangles[:, k], triangles[:, (k + 1) % 3]
    rises, falls = ~over[:, k] & over[:, (k + 1) % 3], over[:, k] & ~over[:, (k + 1) % 3]
    low, high = np.where(rises[:, None], a, b), np.where(rises[:, None], b, a)
    share = (z - low[:, 2]) / np.maximum(high[:, 2] - low[:, 2], 1e-300)
    return low[:, :2] + share[:, None] * (high - low)[:, :2], rises, falls


def section(triangles: Floats, z: float) -> Floats:
    """The lines (n, 2, 2) in which outward triangles cross a height, with the metal on their left."""
    over = triangles[:, :, 2] > z
    part = np.flatnonzero(over.any(axis=1) & ~over.all(axis=1))
    triangles, over = triangles[part], over[part]
    down, up = np.zeros((len(part), 2)), np.zeros((len(part), 2))
    for k in range(3):
        at, rises, falls = _passing(triangles, over, z, k)
        up[rises], down[falls] = at[rises], at[falls]
    return np.stack((down, up), axis=1)


def wound(sides: Floats, along: int, at: Floats, circles: Floats | None = None) -> Lines:
    """The stretches of scan lines that outlines (n, 2, 2) wind round; ``circles`` (n, 3): of such as turn neither in x
    nor in y, radius 0 for straight sides.

    A line that passes between two corners that ought to be one meets more sides one way than the other: it is
    taken a little beside.
    """
    if not len(sides):
        return NONE
    found = [NONE]
    lines, where = np.arange(len(at)), at
    for _ in range(3):
        line, place, sign = _crossed(sides, along, where, circles)
        off = np.bincount(line, sign, len(where)) != 0
        if not off.any():
            found.append(_placed(lines, of_crossings(line, place, sign)))
            break
        fine = ~off[line]
        found.append(_placed(lines, of_crossings(line[fine], place[fine], sign[fine])))
        lines, where = lines[off], where[off] + COINCIDENT
    return found[1] if len(found) == 2 else _ordered(together(found))


def _placed(lines: Ints, found: Lines) -> Lines:
    return Lines(lines[found.line], found.start, found.stop)


def _ordered(lines: Lines) -> Lines:
    order = np.lexsort((lines.start, lines.line))
    return Lines(lines.line[order], lines.start[order], lines.stop[order])


def _crossed(
    sides: Floats, along: int, at: Floats, circles: Floats | None
) -> tuple[Ints, Floats, np.ndarray[tuple[int, ...], np.dtype[np.int8]]]:
    """Each crossing: the line, the place on it, -1 where it enters and +1 where it leaves."""
    u, v = sides[:, :, 1 - along], sides[:, :, along]
    forward = u[:, 1] > u[:, 0]
    low, high = np.where(forward, u[:, 0], u[:, 1]), np.where(forward, u[:, 1], u[:, 0])
    which, line = spread(np.searchsorted(at, low), np.searchsorted(at, high))
    lean = (v[:, 1] - v[:, 0]) / np.where(high > low, u[:, 1] - u[:, 0], 1.0)
    where = at[line]
    place = v[which, 0] + (where - u[which, 0]) * lean[which]
    if circles is not None:
        bent = np.flatnonzero(circles[which, 2])
        mine = which[bent]
        middle, radius = circles[mine, along], circles[mine, 2]
        half = np.sqrt(np.maximum(radius * radius - (where[bent] - circles[mine, 1 - along]) ** 2, 0.0))
        place[bent] = middle + np.where(v[mine, 0] + v[mine, 1] > 2 * middle, half, -half)
    enters = forward == (along == 1)
    return line, place, np.where(enters, -1, 1).astype(np.int8)[which]


def below(triangles: Floats, z: float) -> Floats:
    """The triangles (n, 3, 3) cut off at a height, each as a fan."""
    return _parts(triangles, z)[0]


def raised(triangles: Floats, z: float) -> Floats:
    """The triangles with all that lies lower brought up to a height."""
    lower, upper = _parts(triangles, z)
    lower[:, :, 2] = z
    return np.concatenate((lower, upper))


def lowered(triangles: Floats, z: float) -> Floats:
    """The triangles with all that lies higher brought down to a height."""
    lower, upper = _parts(triangles, z)
    upper[:, :, 2] = z
    return np.concatenate((lower, upper))


def _parts(triangles: Floats, z: float) -> tuple[Floats, Floats]:
    """Triangles below a height and above it; those that pass it in pieces, which look the same way."""
    over = triangles[:, :, 2] > z
    found = {True: [triangles[over.all(axis=1)]], False: [triangles[~over.any(axis=1)]]}
    for one, high in zip(triangles, over, strict=True):
        if high.all() or not high.any():
            continue
        k = int(np.flatnonzero(high != (high.sum() == 2))[0])  # the corner that is alone on its side
        apex, a, b = one[k], one[(k + 1) % 3], one[(k + 2) % 3]
        p, q = (apex + (z - apex[2]) / (c[2] - apex[2]) * (c - apex) for c in (a, b))
        found[bool(high[k])].append(np.array([[apex, p, q]]))
        found[not high[k]].append(np.array([[p, a, b], [p, b, q]]))
    return np.concatenate(found[False]), np.concatenate(found[True])


def same(a: Floats, b: Floats) -> bool:
    """True when two outlines have the same length, box, area and centre of area."""
    if not len(a) or not len(b):
        return len(a) == len(b)
    return bool(np.abs(_sizes(a) - _sizes(b)).max() < CONSTANT)


def _sizes(sides: Floats) -> Floats:
    """Box, length, and what area and its moments come to as a shift of the border (mm): a notch that goes in at the
    end of an edge changes neither of the former."""
    low, high, length = sides.min(axis=(0, 1)), sides.max(axis=(0, 1)), _length(sides)
    p, q = (sides[:, k] - (low + high) / 2 for k in (0, 1))
    twice = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    moments = twice @ (p + q) / 6 / float(np.max(high - low))
    return np.concatenate((low, high, [length, twice.sum() / 2 / length], moments / length))


def _length(sides: Floats) -> float:
    return float(np.hypot(*(sides[:, 1] - sides[:, 0]).T).sum())
