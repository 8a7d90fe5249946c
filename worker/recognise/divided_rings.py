"""Grooves sunk in a ring that something divides: a slot across, or a hole wider than the groove, leaves pieces."""

from __future__ import annotations

from collections.abc import Sequence

from schemas.base import Vec3, add, any_frame, cross, dot, norm
from schemas.tolerances import COAXIAL
from worker.recognise.access import Sight
from worker.recognise.holes import BORE, coaxial, turn_of
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess


def divided_rings(shape: PartShape, sight: Sight, groups: Sequence[tuple[int, ...]]) -> list[Draft]:
    """The rings among some groups of faces of which a piece is missing; whole ones are read as any other recess."""
    free = {p for group in groups for p in group}
    outer: dict[int, list[Patch]] = {}
    for index in sorted(free):
        surface = shape.patches[index].surface
        if surface.kind == "cylinder" and surface.hollow:
            outer.setdefault(shape.carriers[index], []).append(shape.patches[index])
    return [ring for walls in outer.values() if (ring := _ring(shape, sight, walls, free))]


def _ring(shape: PartShape, sight: Sight, walls: list[Patch], free: set[int]) -> Draft | None:
    """The ring whose outer walls are given; None where these are something else's."""
    outer = walls[0].surface
    floors = [shape.patches[f] for f in sorted({o for w in walls for o in w.concave}) if f in free]
    floors = [f for f in floors if f.surface.kind == "plane" and norm(cross(f.surface.axis, outer.axis)) < COAXIAL]
    inner = [shape.patches[o] for o in sorted({o for f in floors for o in f.concave} - {w.index for w in walls})]
    levels = {shape.carriers[f.index] for f in floors}
    if len(levels) != 1 or not inner or not all(_is_core(p, walls[0], free) for p in inner):
        return None
    edges = [{r.other for r in loop} for f in floors for loop in f.loops]
    whole = all(any(edge <= {p.index for p in side} for edge in edges) for side in (walls, inner))
    if whole or len({shape.carriers[p.index] for p in inner}) > 1 or not _go_round(walls, inner):
        return None
    return _draft(shape, sight, walls, inner, floors)


def _is_core(patch: Patch, wall: Patch, free: set[int]) -> bool:
    """True for a free round wall that stands out about the axis of a hollow one."""
    surface = patch.surface
    core = surface.kind == "cylinder" and not surface.hollow and patch.index in free
    return core and coaxial(patch, wall.surface.origin, wall.surface.axis)


def _go_round(walls: Sequence[Patch], inner: Sequence[Patch]) -> bool:
    """True where both walls go round their axis as far as bores do."""
    surface = walls[0].surface
    return all(turn_of(side, surface.origin, surface.axis) > BORE for side in (walls, inner))


def _draft(shape: PartShape, sight: Sight, walls: list[Patch], inner: list[Patch], floors: list[Patch]) -> Draft:
    """The slot that runs in a circle (ISO 14649-10), as wide as its walls lie apart."""
    up, outer = floors[0].surface.axis, walls[0].surface
    patches = tuple(sorted(p.index for p in (*walls, *inner, *floors)))
    top = top_of(shape, Recess(tuple(w.index for w in walls), up, (), ()))
    bottom = dot(floors[0].surface.origin, up)
    place: Vec3 = add(outer.origin, up, top - dot(outer.origin, up))
    far, near = outer.radius, inner[0].surface.radius
    access = (sight.known(up),) if sight.sees(patches, up) else ()
    sizes: dict[str, object] = {
        "diameter": far + near,
        "width": far - near,
        "depth": top - bottom,
        "ends": "loop",
        "open_sides": 0,
        "bottom": "planar",
    }
    if not access:
        sizes["undercut"] = "no straight tool sees all of it, an undercutting cutter may reach it"
    return Draft("slot", patches, any_frame(place, up), access, sizes)
