"""Keyways in bores: slots along a bore that open into it over their whole length."""

from __future__ import annotations

from schemas.base import Frame, add, cross, dot, norm, scale
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.extent import extent
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, is_wall


def with_keyways(shape: PartShape, sight: Sight, recesses: list[Recess]) -> tuple[list[Recess], list[Draft]]:
    """The recesses that are no keyways, and the keyways."""
    found = [(r, _keyway(shape, sight, r)) for r in recesses]
    return [r for r, draft in found if draft is None], [draft for _, draft in found if draft]


def _keyway(shape: PartShape, sight: Sight, recess: Recess) -> Draft | None:
    """The keyway that a recess read along a bore is: a bottom and two cheeks that end at the bore; None for others.

    What is deeper than wide is a passage that the bore crosses.

    It is told as the slot that it is, its depth measured from where its cheeks come out of the bore; a broach, or a
    slotting tool, comes along the bore.
    """
    walls = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    ground = next((w for w in walls if _between_cheeks(shape, w, walls)), None)
    if len(walls) != 3 or len(recess.floors) > 1 or len(walls) + len(recess.floors) != len(recess.patches):
        return None
    if ground is None or not all(_opens_into_bore(shape, w, recess) for w in walls if w != ground):
        return None
    up, along = shape.patches[ground].surface.axis, recess.axis
    across = cross(up, along)
    spans = [extent(shape, walls, d) for d in (along, across, up)]
    if spans[2][1] - spans[2][0] > spans[1][1] - spans[1][0]:
        return None
    place = add(add(scale(along, sum(spans[0]) / 2), across, sum(spans[1]) / 2), up, spans[2][1])
    sizes: dict[str, object] = {
        "length": spans[0][1] - spans[0][0],
        "width": spans[1][1] - spans[1][0],
        "depth": spans[2][1] - spans[2][0],
        "bottom": "planar",
        "ends": "open flat" if recess.floors else "open open",
        "open_sides": 1 if recess.floors else 2,
    }
    access = tuple(d for d in recess.seen if sight.sees(recess.patches, d))
    if not access:
        sizes["undercut"] = "no straight tool sees all of it, an undercutting cutter may reach it"
    return Draft("slot", recess.patches, Frame(location=place, axis=up, ref_direction=along), access, sizes)


def _between_cheeks(shape: PartShape, wall: int, walls: list[int]) -> bool:
    """True for a flat wall that meets two others, square to it, in inner edges."""
    patch = shape.patches[wall]
    others = [shape.patches[w] for w in walls if w != wall]
    flat = all(p.surface.kind == "plane" for p in (patch, *others))
    return flat and all(
        o.index in patch.concave and abs(dot(o.surface.axis, patch.surface.axis)) < SQUARE for o in others
    )


def _opens_into_bore(shape: PartShape, wall: int, recess: Recess) -> bool:
    beyond = [shape.patches[r.other] for r in shape.patches[wall].rims if r.convexity == "convex"]
    return any(
        p.surface.kind == "cylinder" and p.surface.hollow and norm(cross(p.surface.axis, recess.axis)) < SQUARE
        for p in beyond
    )
