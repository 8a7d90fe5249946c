"""Where a curved slot without a floor runs out into something wider: its inner wall goes on along its arc (mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from worker.field.arcs import SAGITTA, Ints32, chords_of
from worker.field.lines import Floats

ON = 4 * SAGITTA
"""How far from an arc the ends of its chords and places on them lie at most (mm)."""
FARTHEST = math.radians(60)
"""How much sooner the inner wall of a slot may end than the outer one."""
Point = tuple[float, float]


def all_rounded_on(chains: Sequence[list[Point]], walls: Floats, owner: Ints32) -> list[list[Point]]:
    """The chains that sections of upright walls (triangles, ``owner``: the face of each) make, each as far as it goes
    on round."""
    if all(chain[0] == chain[-1] for chain in chains):
        return list(chains)
    circles = np.unique(np.round(chords_of(walls, owner).circles, 6), axis=0)
    return [rounded_on(chain, circles) for chain in chains]


def rounded_on(chain: list[Point], circles: Floats) -> list[Point]:
    """An open chain of walls with the ground on its left; where both its ends run round one centre, the one that
    bulges into the ground goes on by chords until it is level with the other: straight on it would bar a cutter that
    is as wide as the slot."""
    ends = [_circle_of(pair, circles) for pair in (chain[:2], chain[-2:])]
    if chain[0] == chain[-1] or ends[0] is None or ends[1] is None or math.dist(ends[0][:2], ends[1][:2]) > ON:
        return chain
    (x, y, first), last = ends[0], ends[1][2]
    begin, end = (math.atan2(q - y, p - x) for p, q in (chain[0], chain[-1]))
    short = math.remainder(begin - end, math.tau)
    if abs(first - last) < ON or not -FARTHEST < short < 0:
        return chain
    radius = min(first, last)
    step = 2 * math.acos(max(1 - SAGITTA / radius, 0.0))  # so fine that the last chord tells the wall's own direction
    shares = np.linspace(0.0, 1.0, 1 + math.ceil(-short / step))
    shares = shares[1:] if last < first else shares[:-1]
    added = [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in (end + shares * short).tolist()]
    return [*chain, *added] if last < first else [*added, *chain]


def _circle_of(pair: Sequence[Point], circles: Floats) -> tuple[float, float, float] | None:
    """The circle through both ends of a side; None where that is none of a wall's."""
    off = [np.abs(np.hypot(circles[:, 0] - x, circles[:, 1] - y) - circles[:, 2]) for x, y in pair]
    worst = np.maximum(*off)
    if not len(worst) or worst.min() > ON:
        return None
    x, y, radius = circles[int(np.argmin(worst))].tolist()
    return x, y, radius
