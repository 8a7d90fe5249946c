"""Round bosses through which slots lead down to the very floor they stand on: a whole boss, and its slots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Frame, Vec3, add, cross, dot, scale, sub, unit
from schemas.feature import FeatureClass
from schemas.tolerances import LIMIT, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.ids import Draft, step_of
from worker.recognise.patches import PartShape
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, components, half, hollow, is_floor, is_wall, runs_into
from worker.recognise.ring_grooves import whole_boss

LONG = 2.0
"""A notch that is open at one end is a slot when it is this many times as long as wide, as everywhere."""


@dataclass(frozen=True, eq=False)
class _Notch:
    """Two walls of a round boss that face each other, by carrier, and what ends them on one side."""

    cheeks: tuple[int, int]
    ends: tuple[int, ...]
    walls: tuple[int, ...]


def with_slotted_bosses(shape: PartShape, sight: Sight, drafts: list[Draft]) -> list[Draft]:
    """The drafts, with the pieces of each round boss as one, and the slots between them."""
    for pieces in _of_one_boss(shape, drafts):
        keep, others = pieces[0], pieces[1:]
        axis, rounds, rest = keep.placement.axis, *_sorted(shape, pieces)
        notches = _notches(shape, rest, axis)
        if not notches:
            continue
        heights = extent(shape, rounds, axis)
        own = tuple(p for d in pieces for p in d.patches if p not in rest)
        drafts = [d for d in drafts if d not in others]
        for draft in drafts:
            draft.bosses = [b for b in draft.bosses if b not in others]
        slots = [_slot(shape, sight, notch, (axis, heights), rounds) for notch in notches]
        whole_boss(shape, sight, keep, set(own))
        drafts += slots
    return drafts


def _of_one_boss(shape: PartShape, drafts: list[Draft]) -> list[list[Draft]]:
    """Bosses of one outer round wall and others, those together whose round walls are one between the same heights."""
    found: dict[tuple[object, ...], list[Draft]] = {}
    for draft in (d for d in drafts if d.class_ == "boss" and not d.elements):
        rounds, rest = _sorted(shape, [draft])
        carriers = {shape.carriers[p] for p in rounds}
        if len(carriers) == 1 and rest:
            heights = (step_of(end) for end in extent(shape, rounds, draft.placement.axis))
            found.setdefault((*carriers, draft.placement.axis, *heights), []).append(draft)
    return list(found.values())


def _sorted(shape: PartShape, pieces: Sequence[Draft]) -> tuple[list[int], list[int]]:
    """The outer round walls of some bosses and their other walls."""
    walls = [p for d in pieces for p in d.patches if is_wall(shape.patches[p], d.placement.axis)]
    rounds = [w for w in walls if shape.patches[w].surface.kind == "cylinder" and not hollow(shape.patches[w])]
    return rounds, [w for w in walls if w not in rounds]


def _notches(shape: PartShape, walls: list[int], axis: Vec3) -> list[_Notch]:
    """The notches that some walls bound, each between the nearest two that face each other; none where one is left."""
    flat = {shape.carriers[w]: w for w in walls if shape.patches[w].surface.kind == "plane"}
    pairs = [(a, b) for a in flat for b in flat if a < b and _across(shape, flat[a], flat[b]) > 0]
    pairs.sort(key=lambda pair: round(_across(shape, flat[pair[0]], flat[pair[1]]), 3))
    taken: set[int] = set()
    found = []
    for a, b in pairs:
        if not taken & {a, b}:
            cheeks = [w for w in walls if shape.carriers[w] in (a, b)]
            ends = tuple(w for w in walls if w not in cheeks and _ends(shape, w, cheeks, (flat[a], flat[b])))
            taken |= {a, b, *(shape.carriers[e] for e in ends)}
            found += _apart(shape, _Notch((flat[a], flat[b]), ends, (*cheeks, *ends)))
    return found if {shape.carriers[w] for w in walls} == taken else []


def _apart(shape: PartShape, notch: _Notch) -> list[_Notch]:
    """A notch, or two of one width on opposite sides, between whose ends the boss goes on."""
    parts = [tuple(part) for part in components(shape, notch.walls)]
    found = []
    for part in parts:
        ends = tuple(e for e in notch.ends if e in part)
        cheeks = [[w for w in part if shape.carriers[w] == shape.carriers[c]] for c in notch.cheeks]
        if ends and all(cheeks):
            found.append(_Notch((cheeks[0][0], cheeks[1][0]), ends, part))
    return found if len(found) == len(parts) == 2 else [notch]


def _across(shape: PartShape, wall: int, other: int) -> float:
    """How far in front of a flat wall another lies that faces it (mm); 0 for any that does not."""
    a, b = (shape.patches[w].surface for w in (wall, other))
    return dot(sub(b.origin, a.origin), a.axis) if dot(a.axis, b.axis) < -1 + SQUARE**2 else 0.0


def _ends(shape: PartShape, wall: int, cheeks: Sequence[int], pair: tuple[int, int]) -> bool:
    """True for what joins both walls of a notch, a flat end or a round one; a hole may have taken where they meet."""
    patch = shape.patches[wall]
    if patch.surface.kind == "cylinder":
        return all(runs_into(patch.surface, shape.patches[c].surface) for c in pair)
    square = abs(dot(patch.surface.axis, shape.patches[pair[0]].surface.axis)) < SQUARE
    return square and any(o in cheeks for o in patch.concave)


def _slot(
    shape: PartShape, sight: Sight, notch: _Notch, stands: tuple[Vec3, tuple[float, float]], rounds: Sequence[int]
) -> Draft:
    axis, (low, _) = stands
    high = top_of(shape, Recess(notch.walls, axis, (), ()))  # past a chamfer round its mouth
    a, b = (shape.patches[w].surface for w in notch.cheeks)
    along = half(unit(cross(axis, a.axis)))
    width = dot(sub(b.origin, a.origin), a.axis)
    start, stop = _reach(shape, notch, shape.patches[rounds[0]].surface, along, set(rounds))
    middle = add(scale(along, (start + stop) / 2), axis, high)
    middle = add(middle, a.axis, dot(a.origin, a.axis) + width / 2)
    floors = {o for w in notch.walls for o in shape.patches[w].concave if is_floor(shape.patches[o], axis)}
    class_, ends = _named(shape, notch, stop - start, width)
    tried = sight.distinct((axis, along, scale(along, -1.0)))
    access = tuple(d for d in tried if sight.sees(notch.walls, d))
    sizes: dict[str, object] = {"length": stop - start, "width": width, "depth": high - low, "bottom": "planar"}
    sizes |= {"ends": ends, "open_sides": 1 if notch.ends else 2}
    if round_ := _round_ends(shape, notch):
        sizes["orthogonal_radius"] = round_[0].radius
    patches = tuple(sorted({*notch.walls, *floors}))
    return Draft(class_, patches, Frame(location=middle, axis=axis, ref_direction=along), access, sizes)


def _named(shape: PartShape, notch: _Notch, length: float, width: float) -> tuple[FeatureClass, str | None]:
    if not notch.ends:
        return "slot", "open open"
    if _round_ends(shape, notch):
        return "slot", "open radiused"
    return ("slot", "open flat") if length >= LONG * width - LIMIT else ("open_pocket", None)


def _round_ends(shape: PartShape, notch: _Notch) -> list[Surface]:
    return [s for s in (shape.patches[e].surface for e in notch.ends) if s.kind == "cylinder"]


def _reach(shape: PartShape, notch: _Notch, round_: Surface, along: Vec3, rounds: set[int]) -> tuple[float, float]:
    """Where a notch begins and ends: where the boss's round wall, now gone, was farthest out between its walls, or
    where its own walls end at something else."""
    cheeks = [w for w in notch.walls if w not in notch.ends]
    spans = [extent(shape, (w,), along) for w in notch.walls]
    low, high = min(s[0] for s in spans), max(s[1] for s in spans)
    offs = [dot(sub(round_.origin, shape.patches[w].surface.origin), shape.patches[w].surface.axis) for w in cheeks]
    beside = max(0.0, -min(offs))
    chord = math.sqrt(max(round_.radius**2 - beside**2, 0.0))
    middle = dot(round_.origin, along)
    meets = [r.points[0] for w in cheeks for r in shape.patches[w].rims if r.other in rounds]
    before = any(dot(p, along) < low + (high - low) / 2 for p in meets)
    after = any(dot(p, along) > low + (high - low) / 2 for p in meets)
    return (middle - chord if before else low), (middle + chord if after else high)
