"""Scan lines on which the axis of an undercutting head is looked for, and the corners of its way between them (mm).

The last line before a corner ends short of it by up to their distance, and what a wide head covers from there by as
much: along straight and bent stretches the loss is of second order, at corners of first.
"""

from __future__ import annotations

import numpy as np

from worker.field.lines import Floats, Ints, Lines
from worker.field.scene import Scene

PER_RADIUS = 40
LINES = 1500
APART = 0.25
"""Lines to the head's radius, and at most; no farther apart than this (mm) while they are not too many: between two of
them the border of what a wide head covers is a chord of its arc."""
TURN = 0.1
"""Change of a border's slope over a line's distance from which it is taken for a corner."""
NEAR = 4.0
"""Ends on neighbouring lines are of one border where they lie no farther apart than so many distances."""


def apart(scene: Scene, radius: float) -> float:
    """From one line to the next."""
    x0, y0, x1, y1 = scene.room
    return max(min(radius / PER_RADIUS, APART), (max(x1 - x0, y1 - y0) + 6 * radius) / LINES)


def lines_over(scene: Scene, radius: float) -> tuple[Floats, Floats]:
    """Scan lines over the metal, so far round it that a head passes outside, and through the axes of round walls."""
    x0, y0, x1, y1 = scene.room
    step, more = apart(scene, radius), 3 * radius
    centres = np.unique(np.round(scene.chords.circles[:, :2], 7), axis=0)
    found = [np.arange(low - more, high + more, step) + step / 3 for low, high in ((y0, y1), (x0, x1))]
    ys, xs = (np.unique(np.concatenate((at, centres[:, k]))) for at, k in zip(found, (1, 0), strict=True))
    return ys, xs


def corner_lines(found: Lines, at: Floats) -> Floats:
    """Where to look once more: places across the lines at which ends of their stretches turn a corner."""
    if len(at) < 4 or not len(found):
        return np.zeros(0)
    return np.unique(np.concatenate([_turns(found.line, values, at) for values in (found.start, found.stop)]))


def _turns(line: Ints, values: Floats, at: Floats) -> Floats:
    finite = np.abs(values) < 1e6
    order = np.lexsort((values[finite], line[finite]))
    line, values = line[finite][order], values[finite][order]
    before, after = _next(line, values, at, -1), _next(line, values, at, 1)
    known = np.flatnonzero((before >= 0) & (after >= 0))
    known = known[after[after[known]] >= 0]
    here, there = known, after[known]
    left = _slope(line, values, at, before[here], here)
    right = _slope(line, values, at, there, after[there])
    gap = at[line[there]] - at[line[here]]
    bends = np.abs(left - right) > TURN
    here, there, left, right, gap = here[bends], there[bends], left[bends], right[bends], gap[bends]
    share = (values[there] - values[here] - right * gap) / (left - right)
    return at[line[here]] + np.clip(share, 0.0, gap)


def _slope(line: Ints, values: Floats, at: Floats, first: Ints, second: Ints) -> Floats:
    return (values[second] - values[first]) / (at[line[second]] - at[line[first]])


def _next(line: Ints, values: Floats, at: Floats, step: int) -> Ints:
    """The nearest end on the next line of each; -1 where none lies near."""
    reach = NEAR * float(np.median(np.diff(at)))
    keys = line * 1e7 + values
    wanted = (line + step) * 1e7 + values
    place = np.searchsorted(keys, wanted)
    found = np.full(len(line), -1)
    best = np.full(len(line), reach)
    for other in (np.clip(place - 1, 0, len(line) - 1), np.clip(place, 0, len(line) - 1)):
        off = np.abs(values[other] - values)
        good = (line[other] == line + step) & (off < best)
        found[good], best[good] = other[good], off[good]
    return found
