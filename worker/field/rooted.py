"""What of a region hangs together with another one (x, y of the setup, mm), by lines both ways."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from schemas.tolerances import LENGTH
from worker.field.lines import Floats, Ints, Lines, Mask, spread, together, union
from worker.field.plane import Known, Region, components, meets
from worker.field.tight import Box2

BESIDE = LENGTH
BETWEEN = 0.25
"""Two borders come nearer between lines than on them by this share of what their distance bends by from line to line:
an eighth for rounds that touch, a quarter for corners."""
OUTSIDE = -1
"""Name of stretches past the room."""


def rooted(region: Known, root: Region, room: Box2, beside: bool) -> Known:
    """Those parts of the region that meet a root; ``beside``: or that touch it from the neighbouring scan line.

    Parts are one only where they hang together within the room: what does so past the metal alone is the way to
    another recess. A part that lines one way see touch the root may be seen apart from it by those the other way. What
    a neighbouring line sees counts where no line that runs through both tells them apart.
    """
    names = [_names(region.lines[along], room, along) for along in (0, 1)]
    roots = [root.scan(along, region.at[along]) for along in (0, 1)]
    met = [_met(region, names[along], roots[along], room, along, (0,), beside) for along in (0, 1)]
    _tie_some(region, names, met)
    if beside:
        near = [_met(region, names[along], roots[along], room, along, (-1, 1), beside) for along in (0, 1)]
        if any((one & ~own).any() for one, own in zip(near, met, strict=True)):
            _add_near(region, names, roots, met, near)
            _tie_some(region, names, met)
    x, y = (lines.where(one) for lines, one in zip(region.lines, met, strict=True))
    return Known(region.at, (x, y))


def _tie_some(region: Known, names: list[Ints], met: list[Mask]) -> None:
    if any(one.any() for one in met) and not all(one.all() for one in met):
        _tie(region, names, met)


def _add_near(region: Known, names: list[Ints], roots: list[Lines], met: list[Mask], near: list[Mask]) -> None:
    """Parts that lines beside the root see touch it are met too, but for such as lines through both see apart."""
    pairs = _pairs(region, names)
    for k in (0, 1):
        for part in np.setdiff1d(names[k][near[k] & ~met[k]], OUTSIDE):
            across = np.unique(pairs[1 - k][pairs[k] == part])
            own = {k: names[k] == part, 1 - k: np.isin(names[1 - k], across)}
            if not any(_apart(region.lines[j].where(own[j]), roots[j]) for j in (0, 1)):
                met[k] |= own[k]


def _apart(part: Lines, root: Lines) -> bool:
    """Whether lines that run through a part and its root show that they come nowhere nearer than what counts."""
    lines, gaps = _gaps(part, root)
    return len(lines) > 0 and bool((gaps - _nearer(lines, gaps)).min() > BESIDE)


def _nearer(lines: Ints, gaps: Floats) -> Floats:
    """How much less each distance may become before the next line: by how it bends, at an end by how it falls."""
    known = np.full(int(lines[-1] - lines[0]) + 3, np.nan)
    known[lines - lines[0] + 1] = gaps
    before, after = known[lines - lines[0]], known[lines - lines[0] + 2]
    found = BETWEEN * (before + after - 2 * gaps)
    end = np.isnan(found)
    found[end] = np.fmin(before, after)[end] - gaps[end]
    return np.where(np.isnan(found), np.inf, np.maximum(found, 0.0))


def _gaps(part: Lines, root: Lines) -> tuple[Ints, Floats]:
    """The lines that run through both, rising, and how far (mm) both are apart along each."""
    same = part.line[:, None] == root.line[None]
    apart = np.maximum(root.start[None] - part.stop[:, None], part.start[:, None] - root.stop[None])
    each = np.where(same, apart, np.inf).min(axis=1, initial=np.inf)
    lines, which = np.unique(part.line[np.isfinite(each)], return_inverse=True)
    gaps = np.full(len(lines), np.inf)
    np.minimum.at(gaps, which, each[np.isfinite(each)])
    return lines, gaps


def from_outside(region: Known, room: Box2) -> Known:
    """Those parts of the region that reach past the room somewhere, seen by lines either way."""
    names = [components(lines) for lines in region.lines]
    past = [(n.start < room[k]) | (n.stop > room[k + 2]) for k, n in enumerate(region.lines)]
    met = [np.asarray(np.isin(names[k], names[k][past[k]])) for k in (0, 1)]
    _tie_some(region, names, met)
    x, y = (lines.where(one) for lines, one in zip(region.lines, met, strict=True))
    return Known(region.at, (x, y))


def _names(lines: Lines, room: Box2, along: int) -> Ints:
    """A name for each stretch, the same for those that hang together within the room."""
    inner = _clipped(lines, room, along)
    names, over = np.full(len(lines), OUTSIDE), inner.stop > inner.start
    names[over] = components(inner.where(over))
    return names


def _clipped(lines: Lines, room: Box2, along: int) -> Lines:
    low, high = room[along], room[along + 2]
    return Lines(lines.line, np.clip(lines.start, low, high), np.clip(lines.stop, low, high))


def _met(region: Known, names: Ints, own: Lines, room: Box2, along: int, aside: Sequence[int], beside: bool) -> Mask:
    """Which stretches belong to parts that lines one way see at the root's own, so many lines ``aside``; past the room
    they stand alone."""
    lines = region.lines[along]
    inner = _clipped(own, room, along)
    inner = inner.where(inner.stop > inner.start)
    if beside:
        inner = union(together([Lines(inner.line + k, inner.start - BESIDE, inner.stop + BESIDE) for k in aside]))
    met = np.isin(names, names[meets(lines, inner) & (names != OUTSIDE)])
    return np.asarray(met | (meets(lines, own) & (names == OUTSIDE)))


def _pairs(region: Known, names: list[Ints]) -> Ints:
    """Names (2, n) of parts along x and along y that have a place in common."""
    xs, ys = region.at[1], region.at[0]
    first = _on_grid(region.lines[0], xs, len(ys))
    second = _on_grid(region.lines[1], ys, len(xs)).T
    both = (first >= 0) & (second >= 0)
    x, y = names[0][first[both]], names[1][second[both]]
    inside = (x != OUTSIDE) & (y != OUTSIDE)
    span = int(y.max(initial=0)) + 1
    keys = x[inside] * span + y[inside]
    keys = np.unique(keys[np.diff(keys, prepend=-1) != 0])  # of millions of places few begin another pair of parts
    return np.stack((keys // span, keys % span))


def _tie(region: Known, names: list[Ints], met: list[Mask]) -> None:
    """What is met one way is met the other way: lines cross within one part."""
    pairs = _pairs(region, names)
    known, before = [names[k][met[k]] for k in (0, 1)], -1
    while before != sum(map(len, known)):
        before = sum(map(len, known))
        for k in (0, 1):
            known[k] = np.union1d(known[k], pairs[k][np.isin(pairs[1 - k], known[1 - k])])
    for k in (0, 1):
        met[k] |= np.isin(names[k], np.setdiff1d(known[k], OUTSIDE))


def _on_grid(lines: Lines, at: Floats, count: int) -> Ints:
    """The number of the stretch (count, len(at)) that holds each place of each line, -1 where none does."""
    found = np.full((count, len(at)), -1)
    which, place = spread(np.searchsorted(at, lines.start), np.searchsorted(at, lines.stop))
    found[lines.line[which], place] = which
    return found
