"""T-slots whose neck has walls of its own all along: with round or flat blind ends, and closed all round."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from schemas.base import Frame, Vec3, add, cross, dot, scale
from schemas.tolerances import LIMIT, SQUARE
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recess_class import recess_drafts
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, hollow, is_floor, is_wall, long_direction
from worker.recognise.undercuts import DEEP

WALLED = ("slot", "closed_pocket", "open_pocket")
"""What a foot may be, seen from above: a step or a face has no roof on both sides of a neck."""


def tee_drafts(shape: PartShape, sight: Sight, recesses: list[Recess]) -> tuple[list[Draft], list[Recess]]:
    """The T-slots among some recesses, and the recesses that are none of their parts."""
    drafts: list[Draft] = []
    gone: set[int] = set()
    owners: dict[int, list[int]] = {}
    for number, recess in enumerate(recesses):
        for patch in recess.patches:
            owners.setdefault(patch, []).append(number)
    for number, foot in enumerate(recesses):
        tried = ((n, up) for up in _ways_out(shape, foot) for n in _over(shape, foot, up, owners) if n not in gone)
        found = next(((n, up) for n, up in tried if _is_neck(shape, recesses[n], foot, up)), None)
        draft = _tee(shape, sight, recesses[found[0]], foot, found[1]) if number not in gone and found else None
        if found and draft and draft.class_ in WALLED:
            drafts.append(draft)
            gone |= {number, found[0]}
    return drafts, [recess for number, recess in enumerate(recesses) if number not in gone]


def _over(shape: PartShape, foot: Recess, up: Vec3, owners: Mapping[int, Sequence[int]]) -> list[int]:
    """Numbers of the recesses that meet a roof of the foot: a neck is one of them."""
    roofs = [shape.patches[p] for p in foot.patches if is_floor(shape.patches[p], scale(up, -1.0))]
    return sorted({n for roof in roofs for o in roof.neighbours for n in owners.get(o, ())})


def _ways_out(shape: PartShape, foot: Recess) -> list[Vec3]:
    """The normals of floors that have a roof over them, in a recess of nothing else but walls and rounded edges."""
    planes = [shape.patches[p].surface.axis for p in foot.patches if shape.patches[p].surface.kind == "plane"]
    planes = list(dict.fromkeys(planes))
    ways = [up for up in planes if any(dot(up, other) < -1 + SQUARE**2 for other in planes)]
    return [up for up in ways if _is_foot(shape, foot, up)]


def _is_foot(shape: PartShape, foot: Recess, up: Vec3) -> bool:
    floors = [p for p in foot.patches if is_floor(shape.patches[p], up)]
    rest = [shape.patches[p] for p in foot.patches if p not in floors]
    return len(floors) == 1 and all(is_wall(p, up) or is_floor(p, scale(up, -1.0)) or hollow(p) for p in rest)


def _is_neck(shape: PartShape, neck: Recess, foot: Recess, up: Vec3) -> bool:
    """True for walls alone whose lower edges all lead to the roof of a foot that is little wider.

    A wider foot is a recess of its own, with a window in its roof; so is a longer one, but that a hole may have taken
    an end of the neck where the cutter goes in. What is cut from the side needs no neck.
    """
    with_it = set(foot.seen) <= set(neck.seen)  # else the foot is cut by itself, and the neck opens into it
    if neck is foot or not with_it or not all(is_wall(shape.patches[p], up) for p in neck.patches):
        return False
    low = extent(shape, neck.patches, up)[0]
    roofs = {r.other for p in neck.patches for r in shape.patches[p].rims if _is_at(r, up, low)}
    if not roofs or not all(r in foot.patches and is_floor(shape.patches[r], scale(up, -1.0)) for r in roofs):
        return False
    x = long_direction(shape, replace(neck, axis=up))
    spans = [(extent(shape, neck.patches, d), extent(shape, foot.patches, d)) for d in (x, cross(up, x))]
    across = min(spans, key=lambda s: s[0][1] - s[0][0])
    width = across[0][1] - across[0][0]
    over = max(max(own[0] - wide[0], wide[1] - own[1]) for own, wide in (spans if foot.seen else [across]))
    return over < width and not any(_is_shallow(shape, neck, foot, up, d) for d in foot.seen)


def _is_shallow(shape: PartShape, neck: Recess, foot: Recess, up: Vec3, way: Vec3) -> bool:
    """True when a straight cutter as wide as the neck makes both from the side (see ``DEEP``)."""
    low, high = extent(shape, foot.patches, way)
    own = extent(shape, neck.patches, cross(up, way))
    return abs(dot(up, way)) < SQUARE and high - low <= DEEP * (own[1] - own[0]) + LIMIT


def _is_at(rim: Rim, up: Vec3, level: float) -> bool:
    return all(abs(dot(p, up) - level) < SQUARE for p in rim.points)


def _tee(shape: PartShape, sight: Sight, neck: Recess, foot: Recess, up: Vec3) -> Draft:
    """Neck and foot as one: ends and length as the foot's plan has them, width of the foot, depth from the mouth."""
    floors = tuple(p for p in foot.patches if is_floor(shape.patches[p], up))
    plan = tuple(p for p in foot.patches if not is_floor(shape.patches[p], scale(up, -1.0)))
    draft = recess_drafts(shape, sight, Recess(plan, up, floors, ()))[0]
    bottom = dot(shape.patches[floors[0]].surface.origin, up)
    top = top_of(shape, replace(neck, axis=up))
    roofs = [shape.patches[p] for p in foot.patches if is_floor(shape.patches[p], scale(up, -1.0))]
    inner = {o for r in roofs for o in r.convex if draft.sizes.get("ends") == "loop" and is_wall(shape.patches[o], up)}
    draft.patches = tuple(sorted({*neck.patches, *foot.patches, *inner}))
    draft.placement = Frame(
        location=add(draft.placement.location, up, top - dot(draft.placement.location, up)),
        axis=up,
        ref_direction=draft.placement.ref_direction,
    )
    draft.access, draft.bosses = (), []
    name = "T-slot: " if draft.class_ == "slot" else ""
    draft.sizes |= {"depth": top - bottom, "undercut": f"{name}wider below than at its mouth"}
    return draft
