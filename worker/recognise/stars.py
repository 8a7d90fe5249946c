"""Equal features all round an axis that they look straight away from, or at: splines, keyways, holes in a rim."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import PATTERN_PLACE, SQUARE
from worker.recognise.ids import Draft, step_of

LEAST = 3
"""Fewer equal features are no pattern."""
TRIED = 4
"""So many of the nearest others that look another way are asked for the axis that they have in common."""
ALIKE = 0.01
"""Sizes are equal to such steps (mm), which no dimension that anybody draws lies on the border of."""
SIZES = ("diameter", "depth", "length", "width", "top_diameter", "bottom", "tip_angle", "radius", "ends")
Array = NDArray[np.float64]


def sizes_of(draft: Draft) -> tuple[object, ...]:
    """What equal features have in common, wherever they lie."""
    return tuple(step_of(v, ALIKE) if isinstance(v := draft.sizes.get(n), float) else v for n in SIZES)


def name_stars(drafts: Iterable[Draft]) -> None:
    """Write "circular 6" on equal features that face one axis squarely, at one height and at equal steps round it."""
    groups: dict[tuple[object, ...], list[Draft]] = {}
    for draft in drafts:
        groups.setdefault((draft.class_, *sizes_of(draft)), []).append(draft)
    for group in groups.values():
        if len(group) >= LEAST:
            _name_group(group)


def _name_group(group: Sequence[Draft]) -> None:
    places = np.array([d.placement.location for d in group])
    ways = np.array([d.placement.axis for d in group])
    left = np.ones(len(group), dtype=bool)
    for first in range(len(group)):
        star = _star(places, ways, left, first) if left[first] else []
        left[[first, *star]] = False
        for member in star:
            group[member].sizes["pattern"] = f"circular {len(star)}"


def _star(places: Array, ways: Array, left: NDArray[np.bool_], first: int) -> list[int]:
    """The members of a star with a first one; none for no star."""
    lean = np.linalg.norm(np.cross(ways, ways[first]), axis=1)
    others = np.flatnonzero(left & (lean > SQUARE))
    near = others[np.argsort(np.linalg.norm(places[others] - places[first], axis=1), kind="stable")[:TRIED]]
    for other in near.tolist():
        star = _about(places, ways, left, (first, other))
        if len(star) >= LEAST and _is_even(places[star], ways[star]):
            return list(star.tolist())
    return []


def _about(places: Array, ways: Array, left: NDArray[np.bool_], pair: tuple[int, int]) -> NDArray[np.intp]:
    """What faces the axis that two face, as far off and at the same height; none where those two do not."""
    a, b = pair
    axis = np.cross(ways[a], ways[b])
    axis /= np.linalg.norm(axis)
    gap = places[b] - places[a]
    if abs(gap @ axis) > PATTERN_PLACE:
        return np.zeros(0, dtype=np.intp)
    reach = float(np.cross(gap, ways[b]) @ axis / (np.cross(ways[a], ways[b]) @ axis))
    rest = places - (places[a] + reach * ways[a])
    aside = np.linalg.norm(rest + reach * ways, axis=1)  # all are as far from the middle as the first one
    return np.flatnonzero(left & (np.abs(ways @ axis) < SQUARE) & (aside < 2 * PATTERN_PLACE))


def _is_even(places: Array, ways: Array) -> bool:
    """True for places all round a circle at equal steps."""
    normal = max((np.cross(ways[0], w) for w in ways[1:]), key=np.linalg.norm)
    side = np.cross(normal / np.linalg.norm(normal), ways[0])
    angles = np.sort(np.arctan2(ways @ side, ways @ ways[0]))
    gaps = np.diff(np.append(angles, angles[0] + math.tau))
    radius = float(np.ptp(places, axis=0).max()) / 2
    return bool(np.abs(gaps - math.tau / len(ways)).max() * radius < 2 * PATTERN_PLACE)
