"""Grooves sunk in a ring that something divides: a slot across, or a hole wider than the groove, leaves pieces.

A slot as deep as the groove has one floor with it.
"""

from __future__ import annotations

from collections.abc import Sequence

from schemas.base import Vec3, add, any_frame, cross, dot, norm
from schemas.tolerances import COAXIAL
from worker.recognise.access import Sight
from worker.recognise.bands import parted
from worker.recognise.beside_channels import on_one_floor
from worker.recognise.holes import BORE
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, floors_of, is_wall
from worker.recognise.turns import coaxial, turn_of


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
    beside = [shape.patches[o] for o in sorted({o for f in floors for o in f.concave} - {w.index for w in walls})]
    inner = [p for p in beside if _is_core(p, walls[0], free)]
    levels = {shape.carriers[f.index] for f in floors}
    crossing = (is_wall(p, outer.axis) and _is_of_slot(p, beside) for p in beside if p not in inner)
    ends = {o for w in walls for o in (*w.smooth, *w.concave)} & {p.index for p in beside}  # of a kidney
    if len(levels) != 1 or not inner or ends or not all(crossing):
        return None
    edges = [{r.other for r in loop} for f in floors for loop in f.loops]
    whole = all(any(edge <= {p.index for p in side} for edge in edges) for side in (walls, inner))
    if whole or len({shape.carriers[p.index] for p in inner}) > 1 or not _go_round(walls, inner):
        return None
    return _draft(shape, sight, walls, inner, floors)


def level_with_rings(shape: PartShape, sight: Sight, group: tuple[int, ...], rings: Sequence[Draft]) -> list[Recess]:
    """The recesses whose floor is that of rings which they cross; none for other groups."""
    met = [ring for ring in rings if set(ring.patches) & set(group)]
    if not met:
        return []
    up, theirs = met[0].placement.axis, {p for ring in met for p in ring.patches}
    floors = tuple(p for p in floors_of(shape, group, up) if p in theirs)
    walls = tuple(p for p in group if p not in floors)
    if not floors or not walls or not sight.sees(walls, up):
        return []
    recess = Recess(group, up, floors, (up,), bridged=tuple(sorted(theirs.difference(group))))
    found = parted(shape, sight, recess, least=1)
    return found if found[0].core else [on_one_floor(shape, sight, recess, walls, ())]


def left_of_rings(shape: PartShape, rings: Sequence[Draft], groups: Sequence[tuple[int, ...]]) -> list[int]:
    """What rings leave of some groups, with the floors on which some of it stands."""
    taken = {p for ring in rings for p in ring.patches}
    rest = {p for group in groups for p in group} - taken
    flat = (p for p in taken if shape.patches[p].surface.kind == "plane")
    return sorted(rest.union(p for p in flat if rest & set(shape.patches[p].concave)))


def _is_core(patch: Patch, wall: Patch, free: set[int]) -> bool:
    """True for a free round wall that stands out about the axis of a hollow one."""
    surface = patch.surface
    core = surface.kind == "cylinder" and not surface.hollow and patch.index in free
    return core and coaxial(patch, wall.surface.origin, wall.surface.axis)


def _is_of_slot(wall: Patch, others: Sequence[Patch]) -> bool:
    """True for what may be a wall of a slot: no round one that stands out, but as the core of another ring."""
    surface = wall.surface
    if surface.kind == "plane" or surface.hollow:
        return True
    rings = (o for o in others if o.surface.kind == "cylinder" and o.surface.hollow)
    return any(coaxial(o, surface.origin, surface.axis) and o.surface.radius > surface.radius for o in rings)


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
