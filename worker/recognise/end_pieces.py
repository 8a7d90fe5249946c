"""Ends that something deeper cuts off a slot: read from where the slot is, though each is less long than deep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from schemas.base import dot
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, floors_of, hollow, is_wall, runs_into


def as_their_slots(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, each read from another's axis whose floor and two walls go on in it, or whose round end it is,
    where it is seen from there.

    Seen from the cut a short end is a pocket with the end wall for its floor, the tip of a round one a trough.
    """
    slots: dict[int, list[Recess]] = {}
    for recess in recesses:
        for carrier in {shape.carriers[f] for f in recess.floors}:
            slots.setdefault(carrier, []).append(recess)
    return [_as_one(shape, sight, recess, slots) for recess in recesses]


def _as_one(shape: PartShape, sight: Sight, recess: Recess, slots: dict[int, list[Recess]]) -> Recess:
    if recess.shared or recess.core:
        return recess
    near = [s for p in recess.patches if p not in recess.floors for s in slots.get(shape.carriers[p], ())]
    for slot in near:
        way = sight.known(slot.axis)
        across = abs(dot(way, recess.axis)) < SQUARE and way in recess.seen
        goes_on = _has_walls_of(shape, recess, slot) if recess.floors else _is_round_end(shape, recess, slot)
        if across and goes_on:
            return replace(recess, axis=way, floors=floors_of(shape, recess.patches, way))
    return recess


def _is_round_end(shape: PartShape, recess: Recess, slot: Recess) -> bool:
    """True for a hollow round wall that would run into two flat walls of a slot smoothly: the tip of its end."""
    round_ = [shape.patches[p] for p in recess.patches if shape.patches[p].surface.kind == "cylinder"]
    if len(round_) != 1 or not hollow(round_[0]) or not is_wall(round_[0], slot.axis):
        return False
    flat = [shape.patches[p].surface for p in slot.patches if is_wall(shape.patches[p], slot.axis)]
    cheeks = [s for s in flat if s.kind == "plane" and runs_into(round_[0].surface, s)]
    return any(dot(a.axis, b.axis) < -1 + SQUARE**2 for i, a in enumerate(cheeks) for b in cheeks[i + 1 :])


def _has_walls_of(shape: PartShape, recess: Recess, slot: Recess) -> bool:
    """True for a recess in which two flat walls of a slot go on that face each other."""
    walls = {shape.carriers[p] for p in slot.patches if p not in slot.floors}
    both = sorted({c for p in recess.patches if (c := shape.carriers[p]) in walls})
    flat = [s for c in both if (s := shape.patches[c].surface).kind == "plane"]
    return any(dot(a.axis, b.axis) < -1 + SQUARE**2 for i, a in enumerate(flat) for b in flat[i + 1 :])
