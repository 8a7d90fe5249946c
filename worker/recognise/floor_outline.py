"""The outline of a recess with floors: its walls in order, its open sides, and the islands in it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Set
from dataclasses import replace
from itertools import groupby

from schemas.base import Vec3, add, any_frame, cross, dot, norm, sub
from schemas.tolerances import LEDGE, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.corners_apart import touched_one_wall
from worker.recognise.extent import extent
from worker.recognise.holes import HALF
from worker.recognise.open_sides import side_faces
from worker.recognise.passages import Outline, distinct, in_place
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.recesses import Recess, hollow, is_wall, joined_to, runs_into
from worker.recognise.reliefs import relieved_corners


def floor_outline(shape: PartShape, recess: Recess, sunk: frozenset[int]) -> Outline:
    """The outline of the floors of a recess. ``sunk``: the patches of all holes and recesses of the part.

    Where a hole or another recess breaks into a wall, or a hole relieves a corner, the wall goes on behind it.
    """
    members = set(recess.patches)
    closed = members.union(recess.bridged)
    runs: list[tuple[int, ...]] = []
    ends: list[tuple[bool, bool]] = []
    beyond: list[int] = []
    islands: list[tuple[int, ...]] = []
    sides: list[int] = []
    for floor in in_place(shape, recess.floors):
        for number, edge in enumerate(shape.patches[floor].loops):
            loop = _over_gaps(dict(recess.behind), edge) if recess.behind else edge
            loop = _over_gaps({h: w for h, w in relieved_corners(shape).get(floor, {}).items() if w in members}, loop)
            if number == 0:
                loop = _without_bites(shape, recess, loop, sunk)
            walled = [_is_walled(recess, r) for r in loop]
            if number == 0:
                found = _runs(shape, loop, walled)
                runs += found
                ends += _free_ends(loop, walled, closed | sunk) if any(walled) else []
                beyond += [r.other for r, w in zip(loop, walled, strict=True) if not w and r.other not in members]
                free = [not w and r.other not in closed for r, w in zip(loop, walled, strict=True)]
                sides += side_faces(loop, free, recess.axis)
            elif recess.core and not recess.behind and not all(walled):  # land between what crosses
                found = _runs(shape, loop, walled) if any(walled) else []
                runs += found
                ends += [(False, False)] * len(found)
            elif any(walled):
                islands.append(tuple(sorted({r.other for r, w in zip(loop, walled, strict=True) if w})))
    runs = [_behind(shape, recess, run) for run in runs]
    if len(recess.floors) > 1 or recess.bridged:
        whole, stops = _whole_runs(shape, runs, ends)
        runs = [_closed(shape, recess, run, stops) for run in _linked(shape, _in_order(shape, whole), stops)]
    posts = [run for run in runs if _is_post(shape, run) or _is_block(shape, recess, run)]
    islands += [_all_of(shape, recess, post) for post in posts]
    runs = [run for run in runs if run not in posts]
    runs = _with_far_end(shape, runs)
    if not set(beyond) - closed:
        runs, inner = _shut(shape, recess, _with_round_ends(shape, runs), low=not beyond)
        islands += inner
    beyond = [b for b in beyond if b not in recess.bridged]
    open_to = tuple(distinct(shape, in_place(shape, set(beyond))))
    return Outline(tuple(runs), open_to, tuple(islands), len(distinct(shape, sides)))


def _shut(
    shape: PartShape, recess: Recess, runs: list[tuple[int, ...]], *, low: bool
) -> tuple[list[tuple[int, ...]], list[tuple[int, ...]]]:
    """The runs of a floor that opens nowhere, closed, and islands: low walls or trenches may divide it.

    A trench may take the corner in which two walls meet, or go right through what stands in a pocket. ``low``: only
    low walls stand at its edges.
    """
    walls = distinct(shape, [w for run in runs for w in run])
    bridged = bool(recess.bridged) and not recess.core and len(walls) > 2
    if bridged and len(runs) > 1 and all(len(run) > 1 and run[0] == run[-1] for run in runs):
        widest = max(
            runs, key=lambda run: (round(_girth(shape, recess, run), 3), [shape.patches[w].order for w in run])
        )
        return [widest], [tuple(sorted(set(run))) for run in runs if run != widest]
    if len(runs) > 1 and (bridged or (low and len(runs) == len(recess.floors))):
        return [(*walls, walls[0])], []
    if len(runs) == 1 < len(runs[0]) and bridged and runs[0][0] != runs[0][-1]:
        return [(*runs[0], runs[0][0])], []
    return runs, []


def _girth(shape: PartShape, recess: Recess, run: tuple[int, ...]) -> float:
    """How large what some walls bound is, seen along the axis: the one round the other is larger (mm)."""
    way = shape.patches[run[0]].surface.axis
    ways = (way, cross(recess.axis, way)) if norm(cross(recess.axis, way)) > SQUARE else _ways(recess.axis)
    return sum(high - low for low, high in (extent(shape, run, d) for d in ways))


def _ways(axis: Vec3) -> tuple[Vec3, Vec3]:
    frame = any_frame((0.0, 0.0, 0.0), axis)
    return frame.x, frame.y


def _over_gaps(far: Mapping[int, int], loop: tuple[Rim, ...]) -> tuple[Rim, ...]:
    """A floor's edge with the walls across gaps, or reliefs, in place of what begins there."""
    return tuple(replace(r, other=far[r.other], convexity="concave") if r.other in far else r for r in loop)


def _with_round_ends(shape: PartShape, runs: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Runs between two cheeks closed by the round walls that holes leave of a slot's ends; as they are for others."""
    ends = [run for run in runs if len(run) == 1 and _is_round(shape, run[0])]
    sides = [run for run in runs if run not in ends]
    if not ends or len(sides) != len(ends) or len(ends) > 2 or (len(ends) == 2 and any(len(s) > 1 for s in sides)):
        return runs
    a, b = (shape.patches[w].surface for w in (sides[0][0], sides[-1][-1]))
    round_ = [shape.patches[end[0]].surface for end in ends]
    flat = a.kind == b.kind == "plane" and dot(a.axis, b.axis) < -1 + SQUARE**2
    tangent = all(abs(dot(sub(r.origin, s.origin), s.axis) - r.radius) < SAME_LENGTH for r in round_ for s in (a, b))
    chain = [w for pair in zip(sides, ends, strict=True) for run in pair for w in run]
    return [(*chain, chain[0])] if flat and tangent else runs


def _with_far_end(shape: PartShape, runs: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Two cheeks and the round end of one slot as one run, where something takes both places at which they touch."""
    sides = [run for run in runs if len(run) == 1 and shape.patches[run[0]].surface.kind == "plane"]
    ends = [run for run in runs if len(run) == 1 and _is_round(shape, run[0])]
    if len(runs) != 3 or len(sides) != 2 or len(ends) != 1:
        return runs
    round_, (a, b) = ends[0][0], (side[0] for side in sides)
    facing = dot(shape.patches[a].surface.axis, shape.patches[b].surface.axis) < -1 + SQUARE**2
    return [(a, round_, b)] if facing and all(_rounds(shape, round_, s) for s in (a, b)) else runs


def _is_round(shape: PartShape, wall: int) -> bool:
    return shape.patches[wall].surface.kind == "cylinder" and hollow(shape.patches[wall])


def _is_post(shape: PartShape, run: tuple[int, ...]) -> bool:
    """True for one round outer wall, a boss that stands at the edge of its floor, and for one that flats within its
    circle cut: a slot parts it."""
    walls = [shape.patches[w] for w in dict.fromkeys(run)]
    rounds = [w for w in walls if w.surface.kind == "cylinder" and not w.surface.hollow]
    if len({shape.carriers[w.index] for w in rounds}) != 1:
        return False
    return all(w in rounds or _lies_within(shape, w.index, rounds[0].surface) for w in walls)


def _all_of(shape: PartShape, recess: Recess, post: tuple[int, ...]) -> tuple[int, ...]:
    """The walls of a round post, all that something deeper parts it into; of any other those that are known."""
    rounds = [w for w in post if shape.patches[w].surface.kind == "cylinder"]
    if not rounds:
        return post
    surface, carriers = shape.patches[rounds[0]].surface, {shape.carriers[w] for w in post}
    alike = [p for p in recess.patches if shape.carriers[p] in carriers]
    return tuple(sorted(p for p in alike if _lies_within(shape, p, surface)))


def _lies_within(shape: PartShape, wall: int, round_: Surface) -> bool:
    """True for a wall no part of which is farther from an axis than a round wall about it."""
    return all(_is_within(r, round_) for r in shape.patches[wall].rims)


def _is_block(shape: PartShape, recess: Recess, run: tuple[int, ...]) -> bool:
    """True for flat walls that turn outwards all round, to the plane they began on: a slot comes in between."""
    walls = [shape.patches[w] for w in run]
    if len(run) < 4 or any(w.surface.kind != "plane" or not is_wall(w, recess.axis) for w in walls):
        return False
    ahead = [cross(w.surface.axis, recess.axis) for w in walls]  # a floor lies left of its edge
    outwards = all(dot(way, w.surface.axis) > SQUARE for way, w in zip(ahead, walls[1:], strict=False))
    return outwards and shape.carriers[run[0]] == shape.carriers[run[-1]]


def _is_walled(recess: Recess, rim: Rim) -> bool:
    return rim.other in recess.patches and rim.convexity != "convex"


def _without_bites(shape: PartShape, recess: Recess, loop: tuple[Rim, ...], sunk: frozenset[int]) -> tuple[Rim, ...]:
    """A floor's edge without the stretches at which something else only bites into a wall or a corner."""
    walled = [_is_walled(recess, r) for r in loop]
    starts = [i for i, here in enumerate(walled) if not here and walled[i - 1]]
    bitten: set[int] = set()
    for i in starts:
        end = next(k for k in range(i, i + len(loop)) if walled[k % len(loop)])
        gap = [k % len(loop) for k in range(i, end)]
        others = [loop[k].other for k in gap]
        a, b = (wall_behind(shape, recess, loop[k % len(loop)].other) for k in (i - 1, end))
        rims = loop[i - 1], loop[end % len(loop)]
        goes_on = shape.carriers[a] == shape.carriers[b] and (
            _onward(*rims) or _closes_round(shape, a, rims, recess.axis)
        )
        meet = goes_on or _relieved(shape, recess, a, b, others) or _meet_beyond(shape, recess, (a, b), rims)
        if meet and _is_taken(shape, recess, [loop[k] for k in gap], sunk):
            bitten.update(gap)
    return tuple(r for k, r in enumerate(loop) if k not in bitten)


def _is_taken(shape: PartShape, recess: Recess, gap: list[Rim], sunk: frozenset[int]) -> bool:
    """True where all that begins at a gap is of holes and recesses, or lies in the round of such a hole: where that
    comes out at the part's side."""
    walls = [shape.patches[r.other] for r in gap if r.other in sunk and _is_round(shape, r.other)]
    holes = [w.surface for w in walls if is_wall(w, recess.axis)]
    return all(r.other in sunk or any(_is_within(r, hole) for hole in holes) for r in gap)


def _is_within(rim: Rim, hole: Surface) -> bool:
    return all(norm(cross(sub(p, hole.origin), hole.axis)) < hole.radius + SAME_LENGTH for p in rim.points)


def _closes_round(shape: PartShape, wall: int, rims: tuple[Rim, Rim], axis: Vec3) -> bool:
    """True for a round wall that bites leave more than half of: from less, what is cut comes out sideways."""
    arms = [sub(p, shape.patches[wall].surface.origin) for p in (rims[0].points[-1], rims[1].points[0])]
    level = [add(arm, axis, -dot(arm, axis)) for arm in arms]
    gap = math.atan2(dot(cross(*level), axis), dot(*level)) % math.tau  # a floor lies left of its edge
    return _is_round(shape, wall) and math.tau - gap > HALF


def _onward(before: Rim, after: Rim) -> bool:
    """True when a straight edge goes on where another stops, not back round the floor to where that began."""
    line = sub(before.points[-1], before.points[0])
    return before.curve == "line" and dot(sub(after.points[0], before.points[-1]), line) > -SAME_LENGTH * norm(line)


def _meet_beyond(shape: PartShape, recess: Recess, walls: tuple[int, int], rims: tuple[Rim, Rim]) -> bool:
    """True for two upright walls that meet where something took the corner, or of which one runs into the other there.

    In a corner each looks the way that the other leads.
    """
    a, b = (shape.patches[w].surface for w in walls)
    apart = len({shape.carriers[w] for w in walls}) > 1
    if not apart or not all(is_wall(shape.patches[w], recess.axis) for w in walls):
        return False
    before, after = (sub(r.points[-1], r.points[0]) for r in rims)
    if a.kind != "plane":  # the flat one begins beyond where the round one touches it
        ahead = b.kind != "plane" or dot(sub(rims[1].points[0], a.origin), after) > -SAME_LENGTH * norm(after)
        return ahead and (_rounds(shape, *walls) or _rounds(shape, *walls[::-1]))
    if b.kind != "plane":
        ahead = dot(sub(b.origin, rims[0].points[-1]), before) > -SAME_LENGTH * norm(before)
        return ahead and _rounds(shape, *walls[::-1])
    gap = sub(rims[1].points[0], rims[0].points[-1])
    inside = dot(after, a.axis) > SQUARE * norm(after) and -dot(before, b.axis) > SQUARE * norm(before)
    return inside and dot(gap, a.axis) > 0 and -dot(gap, b.axis) > 0


def _relieved(shape: PartShape, recess: Recess, a: int, b: int, gap: list[int]) -> bool:
    """True for one upright bore that reaches both of two flat walls that would meet, or is the round between them."""
    hole, p, q = shape.patches[gap[0]].surface, shape.patches[a].surface, shape.patches[b].surface
    upright = hole.kind == "cylinder" and hole.hollow and norm(cross(hole.axis, recess.axis)) < SQUARE
    if not upright or p.kind != "plane" or q.kind != "plane" or len({shape.carriers[g] for g in gap}) > 1:
        return False
    if abs(dot(cross(p.axis, q.axis), recess.axis)) < 0.1:
        return False
    return all(abs(dot(sub(s.origin, hole.origin), s.axis)) < hole.radius + LEDGE for s in (p, q))


def _behind(shape: PartShape, recess: Recess, run: tuple[int, ...]) -> tuple[int, ...]:
    """A run by the walls over its fillets; a closed one stays closed when it has one wall only."""
    found = _squeezed([_over_fillet(shape, recess, w, _rises) for w in run])
    return (*found, found[0]) if len(run) > 1 and run[0] == run[-1] and len(found) == 1 else found


def wall_behind(shape: PartShape, recess: Recess, index: int) -> int:
    """The upright wall over a floor fillet; any other patch is itself."""
    return _over_fillet(shape, recess, index, is_wall)


def _over_fillet(shape: PartShape, recess: Recess, index: int, may_be: Callable[[Patch, Vec3], bool]) -> int:
    patch = shape.patches[index]
    if not hollow(patch) or is_wall(patch, recess.axis):
        return index
    others = [r for r in patch.rims if r.other in recess.patches and r.other not in recess.floors]
    behind = [r for r in others if r.convexity == "smooth" and may_be(shape.patches[r.other], recess.axis)]
    return min(behind, key=lambda r: (-round(r.length, 3), shape.patches[r.other].order)).other if behind else index


def _rises(patch: Patch, axis: Vec3) -> bool:
    """True for an upright wall, and for a plane that leans outwards."""
    leans = patch.surface.kind == "plane" and SQUARE < dot(patch.surface.axis, axis) < 1 - SQUARE
    return leans or is_wall(patch, axis)


def _free_ends(loop: tuple[Rim, ...], walled: list[bool], inside: Set[int]) -> list[tuple[bool, bool]]:
    """Whether each run of a floor's edge begins, and ends, where the part does."""
    if all(walled):
        return [(False, False)]
    start = next(i for i, w in enumerate(walled) if not w)
    turned = [(loop[k % len(loop)], walled[k % len(loop)]) for k in range(start, start + len(loop))]
    parts = [(here, [r for r, _ in rims]) for here, rims in groupby(turned, key=lambda t: t[1])]
    out = [[not here and r.other not in inside for r in rims] for here, rims in parts]
    return [(out[k - 1][-1], out[(k + 1) % len(parts)][0]) for k, (here, _) in enumerate(parts) if here]


def _whole_runs(
    shape: PartShape, runs: list[tuple[int, ...]], ends: list[tuple[bool, bool]]
) -> tuple[list[tuple[int, ...]], dict[tuple[int, ...], tuple[bool, bool]]]:
    """Runs of several floors joined: walls of one carrier are one wall, runs within others are left out.

    One that leads from another's last wall to its first is kept: it closes that. With each whether it begins, and
    ends, where the part does.
    """
    first: list[int] = distinct(shape, in_place(shape, {w for run in runs for w in run}))

    def whole(wall: int) -> int:
        return next(f for f in first if shape.carriers[f] == shape.carriers[wall])

    free: dict[tuple[int, ...], tuple[bool, bool]] = {}
    for run, (begins, stops) in zip(runs, ends, strict=True):
        name = _squeezed([whole(w) for w in run])
        before = free.get(name, (True, True))
        free[name] = (before[0] and begins, before[1] and stops)
    named = [r for r in free if not any(set(r) < set(o) and (r[0], r[-1]) != (o[-1], o[0]) for o in free)]
    return named, free


def _linked(
    shape: PartShape, runs: list[tuple[int, ...]], free: dict[tuple[int, ...], tuple[bool, bool]]
) -> list[tuple[int, ...]]:
    """Runs put end to end where one stops at the wall with which another goes on, or that corners of one or both touch.

    Closed ones go on nowhere: at which wall they begin says nothing; nor do ``free`` ones that end where the part does.
    """
    for i, run in enumerate(runs):
        if len(run) < 2 or run[0] == run[-1] or (free[run][1] and not _is_round(shape, run[-1])):
            continue
        for k, other in enumerate(runs):
            if k == i or len(other) < 2 or other[0] == other[-1]:
                continue
            inside = not (free[run][1] or free[other][0]) and _goes_on(shape, run[-1], other[0])
            if inside or touched_one_wall(shape, run[-1], other[0]):
                rest = [r for n, r in enumerate(runs) if n not in (i, k)]
                both = (*run, *other[other[0] == run[-1] :])
                free[both] = (free[run][0], free[other][1])
                return _linked(shape, [both, *rest], free)
    return runs


def _goes_on(shape: PartShape, a: int, b: int) -> bool:
    """True for one wall, and for one that a rounded corner runs into beyond a gap."""
    return a == b or _rounds(shape, a, b) or _rounds(shape, b, a)


def _rounds(shape: PartShape, corner: int, wall: int) -> bool:
    return (
        _is_round(shape, corner)
        and shape.patches[wall].surface.kind in ("plane", "cylinder")
        and runs_into(shape.patches[corner].surface, shape.patches[wall].surface)
    )


def _in_order(shape: PartShape, runs: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Runs with more and larger walls first: which is linked to which must not hang on the order of faces."""

    def order(run: tuple[int, ...]) -> tuple[float, ...]:
        return (-len(run), *(-round(shape.patches[w].area, 3) for w in run), *shape.patches[run[0]].order)

    return sorted(runs, key=order)


def _closed(
    shape: PartShape, recess: Recess, run: tuple[int, ...], free: Mapping[tuple[int, ...], tuple[bool, bool]]
) -> tuple[int, ...]:
    """A run of three walls or more whose last meets its first, with the first at its end too."""
    if len(run) < 3 or run[0] == run[-1]:
        return run
    first, last = ([p for p in recess.patches if shape.carriers[p] == shape.carriers[w]] for w in (run[0], run[-1]))
    meets = any(set(joined_to(shape, p)) & set(last) for p in first)
    meets = meets or (not any(free[run]) and _goes_on(shape, run[-1], run[0]))
    return (*run, run[0]) if meets else run


def _runs(shape: PartShape, loop: tuple[Rim, ...], walled: list[bool]) -> list[tuple[int, ...]]:
    """Chains of walled rims, as the walls they lead to; a closed loop is one chain with its first wall twice."""
    if all(walled):
        chain = _squeezed([r.other for r in loop])
        start = chain.index(min(chain, key=lambda w: shape.patches[w].order))
        chain = _squeezed([*chain[start:], *chain[:start]])
        return [(*chain, chain[0])]
    start = next(i for i, w in enumerate(walled) if not w)
    turned = [(loop[(start + i) % len(loop)], walled[(start + i) % len(loop)]) for i in range(len(loop))]
    runs: list[list[Rim]] = [[]]
    for rim, closed in turned:
        if closed:
            runs[-1].append(rim)
        elif runs[-1]:
            runs.append([])
    return [_opened(shape, run) for run in runs if run]


def _opened(shape: PartShape, run: list[Rim]) -> tuple[int, ...]:
    """The walls of a run; one wall at both its ends that does not go on across the gap has a rib or a niche in it."""
    chain = _squeezed([r.other for r in run])
    one = len(chain) > 2 and shape.carriers[chain[0]] == shape.carriers[chain[-1]]
    if not one or run[0].curve != "line" or _onward(run[-1], run[0]):
        return chain
    return chain[:1] if chain[1] in shape.patches[chain[0]].concave else chain[:-1]


def _squeezed(chain: list[int]) -> tuple[int, ...]:
    found = [p for i, p in enumerate(chain) if i == 0 or p != chain[i - 1]]
    return tuple(found)
