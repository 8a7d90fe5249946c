"""The outline of what triangles cover, seen along z: their sides without those that two of them share (mm).

All triangles look up, so each runs counter-clockwise and a point is covered where the outline winds round it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from schemas.tolerances import COINCIDENT
from worker.field.lines import NONE, Floats, Ints, Lines, Mask, of_crossings, together
from worker.field.surface import spread

GRID = 1e-5
"""Corners this near to each other are one."""
Broken = Callable[[Floats], tuple[Floats, Ints]]
"""Sides (n, 2, 2) to pieces (m, 2, 2), and where those of each side begin (n + 1)."""


@dataclass(frozen=True, eq=False)
class Borders:
    """Sides that an outline may have, one for each place and height of the lower end.

    Side k is what of ``pieces`` (m, 2, 2) ``begin`` (n + 1) gives it; ``place`` is the same for sides with the same
    ends; ``turns`` is how many more triangles have it on their left than on their right.
    """

    pieces: Floats
    begin: Ints
    place: Ints
    low: Floats
    turns: Ints

    def above(self, height: float) -> Floats:
        """Those that more triangles above a height have on one side than on the other, as often (m, 2, 2)."""
        over = np.flatnonzero(self.low > height)
        if not len(over):
            return np.zeros((0, 2, 2))
        turns = np.bincount(self.place[over], self.turns[over]).astype(np.int64)
        first = np.zeros(len(turns), np.int64)
        first[self.place[over]] = over  # any of them: they have the same ends
        left = np.flatnonzero(turns)
        forward, backward = (first[np.repeat(left, np.maximum(sign * turns[left], 0))] for sign in (1, -1))
        return np.concatenate((self._of(forward), self._of(backward)[:, ::-1]))

    def _of(self, sides: Ints) -> Floats:
        """Their pieces."""
        return self.pieces[spread(self.begin[sides], self.begin[sides + 1])[1]]


@dataclass(frozen=True, eq=False)
class Facets:
    """Triangles (n, 3, 3) that look up; ``broken`` tells into which pieces the outline's sides fall."""

    triangles: Floats
    broken: Broken | None = None

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
        sides = points[ends]
        pieces, pieces_begin = self.broken(sides) if self.broken else (sides, np.arange(len(sides) + 1))
        return Borders(pieces, pieces_begin, place, low[begins], turns)

    @cached_property
    def _heights(self) -> tuple[Floats, Floats]:
        """The lowest and the highest corner of each triangle."""
        z = self.triangles[:, :, 2]
        return z.min(axis=1), z.max(axis=1)

    def sides(self, above: float) -> Floats:
        """The outline's sides (n, 2, 2) of what of the triangles lies above a height."""
        low, high = self._heights
        part = self._welded[0][(low <= above) & (high > above)]
        return np.concatenate((self._borders.above(above), _clipped(part, part[:, :, 2] > above, above)))


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
    return np.concatenate([*found, section(triangles, above)])


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


def wound(sides: Floats, along: int, at: Floats) -> Lines:
    """The stretches of scan lines that outlines (n, 2, 2) wind round.

    A line that passes between two corners that ought to be one meets more sides one way than the other: it is
    taken a little beside.
    """
    found = [NONE]
    lines, where = np.arange(len(at)), at
    for _ in range(3):
        line, place, sign = _crossed(sides, along, where)
        off = np.bincount(line, sign, len(where)) != 0
        fine = ~off[line]
        good = of_crossings(line[fine], place[fine], sign[fine])
        found.append(Lines(lines[good.line], good.start, good.stop))
        if not off.any():
            break
        lines, where = lines[off], where[off] + COINCIDENT
    return found[1] if len(found) == 2 else _ordered(together(found))


def _ordered(lines: Lines) -> Lines:
    order = np.lexsort((lines.start, lines.line))
    return Lines(lines.line[order], lines.start[order], lines.stop[order])


def _crossed(
    sides: Floats, along: int, at: Floats
) -> tuple[Ints, Floats, np.ndarray[tuple[int, ...], np.dtype[np.int8]]]:
    """Each crossing: the line, the place on it, -1 where it enters and +1 where it leaves."""
    u, v = sides[:, :, 1 - along], sides[:, :, along]
    forward = u[:, 1] > u[:, 0]
    low, high = np.where(forward, u[:, 0], u[:, 1]), np.where(forward, u[:, 1], u[:, 0])
    which, line = spread(np.searchsorted(at, low), np.searchsorted(at, high))
    lean = (v[:, 1] - v[:, 0]) / np.where(high > low, u[:, 1] - u[:, 0], 1.0)
    place = v[which, 0] + (at[line] - u[which, 0]) * lean[which]
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
