"""Ends that something deeper cuts off a slot: read from where the slot is, though each is less long than deep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from schemas.base import dot
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, floors_of


def as_their_slots(shape: PartShape, sight: Sight, recesses: Sequence[Recess]) -> list[Recess]:
    """The recesses, each read from another's axis whose floor and two walls go on in it, where it is seen from there.

    Seen from the cut a short end is a pocket with the end wall for its floor.
    """
    slots: dict[int, list[Recess]] = {}
    for recess in recesses:
        for carrier in {shape.carriers[f] for f in recess.floors}:
            slots.setdefault(carrier, []).append(recess)
    return [_as_one(shape, sight, recess, slots) for recess in recesses]


def _as_one(shape: PartShape, sight: Sight, recess: Recess, slots: dict[int, list[Recess]]) -> Recess:
    if not recess.floors or recess.shared or recess.core:
        return recess
    near = [s for p in recess.patches if p not in recess.floors for s in slots.get(shape.carriers[p], ())]
    for slot in near:
        way = sight.known(slot.axis)
        if abs(dot(way, recess.axis)) < SQUARE and way in recess.seen and _has_walls_of(shape, recess, slot):
            return replace(recess, axis=way, floors=floors_of(shape, recess.patches, way))
    return recess


def _has_walls_of(shape: PartShape, recess: Recess, slot: Recess) -> bool:
    """True for a recess in which two flat walls of a slot go on that face each other."""
    walls = {shape.carriers[p] for p in slot.patches if p not in slot.floors}
    both = sorted({c for p in recess.patches if (c := shape.carriers[p]) in walls})
    flat = [s for c in both if (s := shape.patches[c].surface).kind == "plane"]
    return any(dot(a.axis, b.axis) < -1 + SQUARE**2 for i, a in enumerate(flat) for b in flat[i + 1 :])
