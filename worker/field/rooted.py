"""What of a region hangs together with another one (x, y of the setup, mm), by lines both ways."""

from __future__ import annotations

import numpy as np

from schemas.tolerances import LENGTH
from worker.field.lines import Floats, Ints, Lines, Mask, spread, together, union
from worker.field.plane import Known, Region, components, meets
from worker.field.tight import Box2

BESIDE = LENGTH
OUTSIDE = -1
"""Name of stretches past the room."""


def rooted(region: Known, root: Region, room: Box2, beside: bool) -> Known:
    """Those parts of the region that meet a root; ``beside``: or that touch it from the neighbouring scan line.

    Parts are one only where they hang together within the room: what does so past the metal alone is the way to
    another recess. A part that lines one way see touch the root may be seen apart from it by those the other way.
    """
    names = [_names(region.lines[along], room, along) for along in (0, 1)]
    met = [_met(region, names[along], root, room, along, beside) for along in (0, 1)]
    if any(one.any() for one in met) and not all(one.all() for one in met):
        _tie(region, names, met)
    x, y = (lines.where(one) for lines, one in zip(region.lines, met, strict=True))
    return Known(region.at, (x, y))


def from_outside(region: Known, room: Box2) -> Known:
    """Those parts of the region that reach past the room somewhere, seen by lines either way."""
    names = [components(lines) for lines in region.lines]
    past = [(n.start < room[k]) | (n.stop > room[k + 2]) for k, n in enumerate(region.lines)]
    met = [np.asarray(np.isin(names[k], names[k][past[k]])) for k in (0, 1)]
    if any(one.any() for one in met) and not all(one.all() for one in met):
        _tie(region, names, met)
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


def _met(region: Known, names: Ints, root: Region, room: Box2, along: int, beside: bool) -> Mask:
    """Which stretches belong to parts that lines one way see at the root; past the room they stand alone."""
    lines, own = region.lines[along], root.scan(along, region.at[along])
    inner = _clipped(own, room, along)
    inner = inner.where(inner.stop > inner.start)
    if beside:
        inner = union(together([Lines(inner.line + k, inner.start - BESIDE, inner.stop + BESIDE) for k in (-1, 0, 1)]))
    met = np.isin(names, names[meets(lines, inner) & (names != OUTSIDE)])
    return np.asarray(met | (meets(lines, own) & (names == OUTSIDE)))


def _tie(region: Known, names: list[Ints], met: list[Mask]) -> None:
    """What is met one way is met the other way: lines cross within one part."""
    xs, ys = region.at[1], region.at[0]
    first = _on_grid(region.lines[0], xs, len(ys))
    second = _on_grid(region.lines[1], ys, len(xs)).T
    both = (first >= 0) & (second >= 0)
    pairs = np.unique(np.stack((names[0][first[both]], names[1][second[both]])), axis=1)
    pairs = pairs[:, (pairs != OUTSIDE).all(axis=0)]
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
