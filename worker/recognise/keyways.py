"""Keyways and oil grooves in bores: slots along a bore that open into it over their whole length."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from schemas.base import Frame, Vec3, add, cross, dot, norm, scale, sub
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.recognise.access import Sight, opposite, tidy
from worker.recognise.bulges import area_vector
from worker.recognise.extent import extent
from worker.recognise.holes import crossings
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape
from worker.recognise.recess_size import is_square
from worker.recognise.recesses import Recess, is_wall
from worker.recognise.through_slots import OVER
from worker.recognise.ways_across import narrow_way


def with_keyways(shape: PartShape, sight: Sight, recesses: list[Recess]) -> tuple[list[Recess], list[Draft]]:
    """The recesses that are no keyways, and the keyways; pieces on both sides of what crosses one are one."""
    found = [_round(shape, r) or _square(shape, r) for r in recesses]
    flat = {p for r in recesses for p in r.patches if shape.patches[p].surface.kind == "plane"}
    found = [None if piece and _ends_slot(shape, piece, flat) else piece for piece in found]
    rest = [r for r, piece in zip(recesses, found, strict=True) if piece is None]
    return rest, [_draft(shape, sight, whole) for whole in _wholes(shape, [p for p in found if p])]


@dataclass(frozen=True, eq=False)
class _Piece:
    """A recess that is a keyway, or a piece of one, the wall that is its bottom, and the way from there to the bore."""

    recess: Recess
    ground: int
    up: Vec3

    def walls(self, shape: PartShape) -> tuple[int, ...]:
        """Its bottom and cheeks."""
        return tuple(p for p in self.recess.patches if is_wall(shape.patches[p], self.recess.axis))


def _round(shape: PartShape, recess: Recess) -> _Piece | None:
    """The oil groove that a recess along a bore is: a round wall with the bore on both sides; None for others."""
    walls = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    if len(walls) != 1 or len(walls) + len(_ends(shape, recess)) != len(recess.patches):
        return None
    wall, bores = shape.patches[walls[0]], _beyond(shape, walls[0], recess)
    lips = [r for r in wall.rims if r.curve == "line"]
    if wall.surface.kind != "cylinder" or not wall.surface.hollow:  # a boss whose wall a hole breaks open
        return None
    if len(lips) < 2 or any(r.other not in bores for r in lips):
        return None
    up = tidy(cross(recess.axis, narrow_way(shape, walls, recess.axis)))
    return _Piece(recess, wall.index, up if dot(up, area_vector([wall])) > 0 else opposite(up))


def _ends_slot(shape: PartShape, piece: _Piece, flat: Collection[int]) -> bool:
    """True for a round wall that two cheeks of a slot would run into smoothly: what a hole left of the slot's end."""
    wall = shape.patches[piece.ground].surface
    planes = [p for p in (shape.patches[f] for f in flat) if is_wall(p, piece.recess.axis)] if wall.hollow else []
    gaps = [(p.surface.axis, dot(sub(wall.origin, p.surface.origin), p.surface.axis)) for p in planes]
    cheeks = [axis for axis, gap in gaps if abs(gap - wall.radius) < SAME_LENGTH]
    return any(dot(a, b) < -1 + SQUARE**2 for a in cheeks for b in cheeks)


def _ends(shape: PartShape, recess: Recess) -> list[int]:
    """Its flat end walls."""
    return [p for p in recess.patches if is_square(shape.patches[p], recess.axis)]


def _square(shape: PartShape, recess: Recess) -> _Piece | None:
    """The keyway that a recess along a bore is: a bottom and two cheeks that end at the bore; None for others.

    What is deeper than wide is a passage that the bore crosses.
    """
    walls = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    ground = next((w for w in walls if _between_cheeks(shape, w, walls)), None)
    if len(walls) != 3 or len(recess.floors) > 1 or len(walls) + len(recess.floors) != len(recess.patches):
        return None
    if ground is None or not all(_beyond(shape, w, recess) for w in walls if w != ground):
        return None
    up = shape.patches[ground].surface.axis
    width, depth = (high - low for low, high in (extent(shape, walls, d) for d in (cross(up, recess.axis), up)))
    return _Piece(recess, ground, up) if depth <= width else None


def _wholes(shape: PartShape, pieces: list[_Piece]) -> list[list[_Piece]]:
    """Pieces on the same three planes, put together where what parts them is air, and no longer than parts holes."""
    alike: dict[frozenset[int], list[_Piece]] = {}
    for piece in pieces:
        alike.setdefault(frozenset(shape.carriers[w] for w in piece.walls(shape)), []).append(piece)
    found: list[list[_Piece]] = []
    for same in alike.values():
        way = same[0].recess.axis
        run: list[_Piece] = []
        for piece in sorted(same, key=lambda p: extent(shape, (p.ground,), way)):
            if run and not _goes_on(shape, run[-1], piece, way):
                found.append(run)
                run = []
            run.append(piece)
        found.append(run)
    return found


def _goes_on(shape: PartShape, a: _Piece, b: _Piece, way: Vec3) -> bool:
    """True where one broach makes both: with air between, no longer than the bore is wide or than both pieces."""
    (low, end), (start, high) = (extent(shape, (p.ground,), way) for p in (a, b))
    bores = {o for w in a.walls(shape) for o in _beyond(shape, w, a.recess)}
    far = max([end - low + high - start, *(2 * shape.patches[o].surface.radius for o in bores)]) + LIMIT
    across = cross(a.up, way)
    place = add(scale(across, sum(extent(shape, a.walls(shape), across)) / 2), way, end)
    place = add(place, a.up, extent(shape, (a.ground,), a.up)[0] + OVER)
    return start - end <= far and not crossings(shape, place, way, 0.0, start - end)


def _draft(shape: PartShape, sight: Sight, pieces: list[_Piece]) -> Draft:
    """A keyway as the slot that it is, its depth measured from where its cheeks come out of the bore.

    A broach, or a slotting tool, comes along the bore.
    """
    walls = tuple(w for p in pieces for w in p.walls(shape))
    up, along = pieces[0].up, pieces[0].recess.axis
    across = cross(up, along)
    spans = [extent(shape, walls, d) for d in (along, across, up)]
    place = add(add(scale(along, sum(spans[0]) / 2), across, sum(spans[1]) / 2), up, spans[2][1])
    bottom = shape.patches[pieces[0].ground].surface
    closed = {shape.patches[e].normal for p in pieces for e in _ends(shape, p.recess)}
    sizes: dict[str, object] = {
        "length": spans[0][1] - spans[0][0],
        "width": spans[1][1] - spans[1][0],
        "depth": spans[2][1] - spans[2][0],
        "bottom": "radiused" if bottom.hollow else "planar",
        "ends": ("open open", "open flat", "flat flat")[min(len(closed), 2)],
        "open_sides": 2 - min(len(closed), 2),
    }
    if bottom.hollow:
        sizes["planar_radius"] = bottom.radius
    patches = tuple(sorted(q for p in pieces for q in p.recess.patches))
    ways = sight.distinct((up, *(d for p in pieces for d in p.recess.seen)))
    access = tuple(d for d in ways if sight.sees(patches, d))
    if not access:
        sizes["undercut"] = "no straight tool sees all of it, an undercutting cutter may reach it"
    return Draft("slot", patches, Frame(location=place, axis=up, ref_direction=along), access, sizes)


def _between_cheeks(shape: PartShape, wall: int, walls: list[int]) -> bool:
    """True for a flat wall that meets two others, square to it, in inner edges."""
    patch = shape.patches[wall]
    others = [shape.patches[w] for w in walls if w != wall]
    flat = all(p.surface.kind == "plane" for p in (patch, *others))
    return flat and all(
        o.index in patch.concave and abs(dot(o.surface.axis, patch.surface.axis)) < SQUARE for o in others
    )


def _beyond(shape: PartShape, wall: int, recess: Recess) -> set[int]:
    """The bores along a recess that a wall of it ends at."""
    beyond = [shape.patches[r.other] for r in shape.patches[wall].rims if r.convexity == "convex"]
    round_ = (p for p in beyond if p.surface.kind == "cylinder" and p.surface.hollow)
    return {p.index for p in round_ if norm(cross(p.surface.axis, recess.axis)) < SQUARE}
