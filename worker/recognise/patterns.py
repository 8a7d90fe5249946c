"""Equal features in rows, grids and circles (ISO 14649-10 replicate features), as a name on each of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, add, any_frame, cross, dot, norm, scale, sub
from schemas.tolerances import PATTERN_PLACE, SQUARE
from worker.kernel import linked
from worker.recognise.ids import Draft, step_of
from worker.recognise.stars import ALIKE, LEAST, name_stars, sizes_of

ON_ARC = 5
"""So many on an arc are no accident: four stand on one wherever they form an even trapezoid."""
REACH = 1.5
"""Equal features farther apart than this many times the usual distance between neighbours are of different patterns."""
GROUPED = ("round_hole", "counterbore_hole", "countersunk_hole", "slot", "closed_pocket", "boss")
LONG = ("slot", "closed_pocket")
"""What runs in a direction."""
Place = tuple[float, float]


def name_patterns(drafts: Sequence[Draft]) -> None:
    """Write "circular 6", "rectangular 3 x 2" or "general 5" on the members of each pattern."""
    elements = {id(e) for d in drafts for e in d.elements}
    groups: dict[tuple[object, ...], list[Draft]] = {}
    for draft in drafts:
        if draft.class_ in GROUPED and id(draft) not in elements:
            groups.setdefault(_kind(draft), []).append(draft)
    for group in groups.values():
        if len(group) >= LEAST:
            _name_group(group)
    name_stars(d for group in groups.values() for d in group if "pattern" not in d.sizes)


def _kind(draft: Draft) -> tuple[object, ...]:
    """What members of one pattern share: class, direction, entry plane and sizes."""
    axis, sizes = draft.placement.axis, sizes_of(draft)
    level = step_of(dot(draft.placement.location, axis), ALIKE)
    return (draft.class_, tuple(round(c, 4) + 0.0 for c in axis), level, sizes)


def _name_group(group: list[Draft]) -> None:
    whole = _name_of(group)
    rest = list(group)
    for part in [group] if whole else _rings(group) or _clusters(group):
        if name := whole or _name_of(part):
            rest = [d for d in rest if d not in part]
            for draft in part:
                draft.sizes["pattern"] = name
    if len(rest) >= LEAST:
        for draft in rest:
            draft.sizes["pattern"] = f"general {len(rest)}"


def _name_of(group: list[Draft]) -> str | None:
    if len(group) < LEAST:
        return None
    axis, turn = group[0].placement.axis, _turn_about(group)
    places = [d.placement.location for d in group]
    rows = None if turn else _rectangular(places, axis)
    return _circular(places, four=turn) or rows or _arc(places, axis)


def _turn_about(group: list[Draft]) -> bool:
    """True for members longer than wide that do not all run one way: no row, whatever their places."""
    if any(d.class_ not in LONG or not d.sizes.get("length") for d in group):
        return False
    if any(abs(d.sizes["length"] - d.sizes["width"]) < PATTERN_PLACE for d in group):
        return False
    first, *rest = (d.placement.ref_direction for d in group)
    return any(norm(cross(first, way)) > SQUARE for way in rest)


def _rings(group: list[Draft]) -> list[list[Draft]]:
    """Members on circles round their common middle, circle by circle; none unless each is evenly set."""
    middle = scale(_total(d.placement.location for d in group), 1 / len(group))
    rings: list[list[Draft]] = []
    last = -math.inf
    for radius, draft in sorted(((norm(sub(d.placement.location, middle)), d) for d in group), key=lambda r: r[0]):
        if radius - last > 2 * PATTERN_PLACE:
            rings.append([])
        rings[-1].append(draft)
        last = radius
    return rings if all(_name_of(r) for r in rings) else []


def _clusters(group: list[Draft]) -> list[list[Draft]]:
    """Members that stand closer than REACH times their usual distance belong together."""
    places = np.array([d.placement.location for d in group])
    nearest = np.array([_apart(places, i).min() for i in range(len(group))])
    reach = REACH * float(np.median(nearest))
    pairs = ((i, int(j)) for i in range(len(group)) for j in np.flatnonzero(_apart(places, i) < reach) if j > i)
    return [[group[i] for i in members] for members in linked.groups(len(group), pairs)]


def _apart(places: NDArray[np.float64], index: int) -> NDArray[np.float64]:
    """Distances of all places (n, 3) from one of them, which counts as infinitely far itself."""
    found: NDArray[np.float64] = np.sqrt(((places - places[index]) ** 2).sum(axis=1))
    found[index] = math.inf
    return found


def _circular(places: Sequence[Vec3], *, four: bool = False) -> str | None:
    """Places on one circle at equal angles; four count as rectangular unless ``four`` says that they turn with it."""
    middle = scale(_total(places), 1 / len(places))
    arms = [sub(p, middle) for p in places]
    radius = norm(arms[0])
    if (len(places) == 4 and not four) or radius < PATTERN_PLACE:
        return None
    if any(abs(norm(a) - radius) > PATTERN_PLACE for a in arms):
        return None
    normal = cross(arms[0], next((a for a in arms if norm(cross(arms[0], a)) > PATTERN_PLACE), arms[0]))
    if norm(normal) < PATTERN_PLACE:
        return None
    side = cross(scale(normal, 1 / norm(normal)), arms[0])
    angles = sorted(math.atan2(dot(a, side), dot(a, arms[0])) % (2 * math.pi) for a in arms)
    step = 2 * math.pi / len(places)
    even = all(abs(b - a - step) * radius < 2 * PATTERN_PLACE for a, b in pairwise(angles))
    return f"circular {len(places)}" if even else None


def _arc(places: Sequence[Vec3], axis: Vec3) -> str | None:
    """Places at equal steps along an arc (ISO 14649-10 circular_pattern with its angle increment)."""
    if len(places) < ON_ARC:
        return None
    frame = any_frame((0.0, 0.0, 0.0), axis)
    flat = np.array([(dot(p, frame.x), dot(p, frame.y)) for p in places])
    flat -= flat.mean(axis=0)
    found, _, rank, _ = np.linalg.lstsq(np.hstack([2 * flat, np.ones((len(flat), 1))]), (flat**2).sum(axis=1))
    arms = flat - found[:2]
    radii = np.hypot(arms[:, 0], arms[:, 1])
    if rank < 3 or np.ptp(radii) > 2 * PATTERN_PLACE:
        return None
    angles = np.sort(np.arctan2(arms[:, 1], arms[:, 0]))
    gaps = np.sort(np.diff(np.append(angles, angles[0] + 2 * math.pi)))[:-1] * radii.mean()
    return f"circular {len(places)}" if np.ptp(gaps) < 2 * PATTERN_PLACE else None


def _total(places: Iterable[Vec3]) -> Vec3:
    total: Vec3 = (0.0, 0.0, 0.0)
    for place in places:
        total = add(total, place)
    return total


def _rectangular(places: Sequence[Vec3], axis: Vec3) -> str | None:
    """Places at every crossing of evenly spaced rows and columns; a single row is "rectangular n x 1"."""
    frame = any_frame((0.0, 0.0, 0.0), axis)
    flat = sorted((dot(p, frame.x), dot(p, frame.y)) for p in places)
    x, y = np.array(flat).T
    for line in _lines(x - x[0], y - y[0]):
        rows = _even(x * line[0] + y * line[1])
        columns = _even(y * line[0] - x * line[1]) if rows and len(flat) % rows == 0 else None
        if rows and columns and rows * columns == len(flat):
            return f"rectangular {max(rows, columns)} x {min(rows, columns)}"
    return None


def _lines(x: NDArray[np.float64], y: NDArray[np.float64]) -> list[Place]:
    """Directions in which rows may run from the first place, a corner: there the nearest place is next in its row.

    The last of that row gives the direction best.
    """
    size = np.hypot(x, y)
    size[size <= PATTERN_PLACE] = math.inf
    near = int(size.argmin())
    if not math.isfinite(size[near]):
        return []
    along, aside = (x * x[near] + y * y[near]) / size[near], np.abs(x * y[near] - y * x[near]) / size[near]
    row = np.flatnonzero((along > 0) & np.isfinite(size) & (aside < 2 * PATTERN_PLACE * along / size[near]))
    last = int(row[along[row].argmax()])
    return [(x[k] / size[k], y[k] / size[k]) for k in dict.fromkeys((last, near))]


def _even(values: NDArray[np.float64]) -> int | None:
    """How many different values there are, when they are evenly spaced."""
    ordered = np.sort(values).tolist()
    last, count, least, most = ordered[0], 1, math.inf, -math.inf
    for value in ordered:
        gap = value - last
        if gap > PATTERN_PLACE:
            last, count, least, most = value, count + 1, min(least, gap), max(most, gap)
            if most - least >= 2 * PATTERN_PLACE:
                return None
    return count
