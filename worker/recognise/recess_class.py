"""What a recess is called and how large it is: closed or open pocket, slot, step; and the bosses in it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

from schemas.base import Frame, Vec3, add, cross, dot, norm, scale, sub, unit
from schemas.feature import FeatureClass
from schemas.tolerances import LEDGE, LIMIT, SQUARE
from worker.recognise.access import Sight
from worker.recognise.bands import goes_all_round
from worker.recognise.basins import basin_of, open_sides
from worker.recognise.bent_courses import bent
from worker.recognise.beside_bores import seen_past_bores
from worker.recognise.corners_apart import touched_one_wall
from worker.recognise.curved import LONG, Course, circular, crossed_course, open_course, rings_of
from worker.recognise.divided_islands import with_divided_islands
from worker.recognise.drilled_ends import holes_along, with_drilled_ends, with_whole_ends
from worker.recognise.edge_islands import with_edge_islands
from worker.recognise.extent import extent
from worker.recognise.floor_outline import floor_outline, wall_behind
from worker.recognise.holes import crossings
from worker.recognise.ids import Draft
from worker.recognise.loops import cut_loop, looped
from worker.recognise.passages import Outline, distinct, through_outline
from worker.recognise.patches import PartShape, Patch
from worker.recognise.recess_size import bottom_of, ground_of, is_vee, radii_of, sizes_of, top_of
from worker.recognise.recesses import Recess, half, hollow, is_floor, is_wall, joined_to, long_direction, sees_own
from worker.recognise.through_slots import OVER


def recess_drafts(shape: PartShape, sight: Sight, recess: Recess, sunk: frozenset[int] = frozenset()) -> list[Draft]:
    """The feature of a recess and the bosses standing in it; ``sunk``: the patches of all holes and recesses."""
    basin, course = basin_of(shape, recess, sunk), None
    if basin:
        outline, class_, ends = Outline((), basin.open_to, ()), basin.class_, basin.ends
    else:
        ground = _ramped(shape, recess)
        outline = floor_outline(shape, ground, sunk) if ground.floors else through_outline(shape, ground)
        outline = with_divided_islands(shape, ground, outline)
        course = crossed_course(shape, ground.core) if ground.shared else None
        course = course or cut_loop(shape, ground, sunk) or _course(shape, ground, outline)
        course = course or bent(shape, ground, outline)
        outline = outline if course else with_edge_islands(shape, ground, outline)
        class_, ends = ("slot", course.ends) if course else _class_of(shape, ground, outline)
    sides = open_sides(shape, recess) if basin else outline.sides
    travel = basin.travel if basin else _along_wall(shape, recess, outline) if class_ == "step" else None
    place, sizes = sizes_of(shape, recess, class_, travel)
    if course and course.centre:
        spot = add(course.centre, recess.axis, dot(place.location, recess.axis))
        place = place.model_copy(update={"location": spot})
    low = class_ in ("open_pocket", "closed_pocket") and recess.floors and _is_land(shape, recess)
    if low or (ends == "open open" and _is_rib(shape, recess, outline, place, sizes)):
        class_, ends, course = "planar_face", None, None
        place, sizes = sizes_of(shape, recess, class_)
    if (
        class_ == "slot" and ends and "open" in ends and recess.seen and not course
    ):  # an undercutting cutter comes in by the hole
        place, sizes, ends = with_drilled_ends(shape, recess, place, sizes, ends)
    if class_ == "slot" and "radiused" in (ends or "") and not course and not basin:
        place, sizes = with_whole_ends(shape, recess, place, sizes, _within(shape, outline, ends))
    entry = top_of(shape, recess)
    islands = () if course else outline.islands  # what a slot runs round is no island in it
    bosses = [_boss(shape, sight, recess, walls, entry) for walls in _standing(shape, recess, islands)]
    if class_ == "planar_face":
        patches = tuple(recess.floors)
    else:
        patches = tuple(sorted({*recess.patches, *(p for b in bosses for p in b.patches)}))
    seen = tuple(d for d in recess.seen if sees_own(sight, recess, recess.core or patches, d))
    seen = (*seen, *seen_past_bores(shape, sight, recess))
    sides = 0 if class_ == "closed_pocket" else sides  # what takes a stretch of its floor opens no side of it
    sizes.update(radii_of(shape, recess), open_sides=ends.split().count("open") if ends else sides, ends=ends)
    sizes["bottom"] = bottom_of(shape, recess)
    sizes.update(basin.sizes if basin else course.sizes if course else {})
    if class_ == "planar_face":
        sizes = {k: sizes[k] for k in ("length", "width")}
    draft = Draft(class_, patches, place, seen, sizes, bosses=bosses, key=_key(recess, course, entry))
    if not seen:
        more = "" if class_ == "planar_face" else ", an undercutting cutter may reach it"
        sizes["undercut"] = f"no straight tool sees all of it{more}"
    return [draft, *bosses]


def _key(recess: Recess, course: Course | None, entry: float) -> tuple[float, ...] | None:
    """What a slot that runs in a circle is named after, whatever divides it; None for any other."""
    if not course or not course.halfway:
        return None
    sizes = (float(str(course.sizes[name])) for name in ("diameter", "width", "length"))
    return (*add(course.halfway, recess.axis, entry - dot(course.halfway, recess.axis)), *sizes)


def _along_wall(shape: PartShape, recess: Recess, outline: Outline) -> Vec3 | None:
    """The way along the one upright wall of a step, whatever ribs stand against it; None for any other."""
    walls = distinct(shape, [w for run in outline.runs for w in run])
    if len(walls) != 1 or not _flat(shape, walls[0]) or not is_wall(shape.patches[walls[0]], recess.axis):
        return None
    return half(unit(cross(recess.axis, shape.patches[walls[0]].surface.axis)))


def _is_rib(shape: PartShape, recess: Recess, outline: Outline, place: Frame, sizes: dict[str, object]) -> bool:
    """True for tops of low walls that divide a pocket: each shorter than wide, with deeper floor at both ends."""
    spans = [extent(shape, (f,), place.ref_direction) for f in recess.floors]
    short = all(high - low < float(str(sizes["width"])) for low, high in spans)
    level = dot(shape.patches[recess.floors[0]].surface.origin, recess.axis) if recess.floors else 0.0
    drops = [shape.patches[o] for o in outline.open_to]
    foot = [shape.patches[f].surface for p in drops for f in p.concave if is_floor(shape.patches[f], recess.axis)]
    ends = [{shape.carriers[o] for o in shape.patches[f].convex if o not in recess.patches} for f in recess.floors]
    deeper = len(foot) >= len(drops) and all(dot(s.origin, recess.axis) < level for s in foot)
    deeper = deeper and all(len(both & {shape.carriers[o] for o in outline.open_to}) == 2 for both in ends)
    return bool(recess.floors) and recess.shared and not recess.core and short and deeper


def _is_land(shape: PartShape, recess: Recess) -> bool:
    """True for tops of low walls that cross in a pocket: floor below most of their edges, walls at their ends."""
    members = set(recess.patches)
    rims = [r for f in recess.floors for r in shape.patches[f].rims]
    drops = [r for r in rims if r.convexity == "convex" and r.other not in members]
    level = dot(shape.patches[recess.floors[0]].surface.origin, recess.axis)
    deeper = all(
        any(
            is_floor(shape.patches[f], recess.axis) and dot(shape.patches[f].surface.origin, recess.axis) < level
            for f in shape.patches[r.other].concave
        )
        for r in drops
    )
    walled = sum(r.length for r in rims if r.convexity != "convex" and r.other in members)
    return recess.shared and not recess.core and deeper and walled < sum(r.length for r in drops) / 2


def _ramped(shape: PartShape, recess: Recess) -> Recess:
    """The recess with its one slanted plane for a floor, where it has no other: a pocket that gets deeper."""
    leaning = [p for p in recess.patches if not is_wall(shape.patches[p], recess.axis)]
    planes = tuple(p for p in leaning if shape.patches[p].surface.kind == "plane")
    walls = len(recess.patches) - len(leaning)
    return replace(recess, floors=planes) if not recess.floors and len(planes) == 1 and walls > 1 else recess


def _course(shape: PartShape, recess: Recess, outline: Outline) -> Course | None:
    """The circle that a recess between two round walls runs in."""
    if outline.open_to and outline.runs and len(outline.islands) < 2:
        return open_course(shape, recess, [*outline.runs, *outline.islands], _holes_at_ends(shape, recess))
    if len(outline.runs) != 1 or len(outline.runs[0]) < 2 or outline.runs[0][0] != outline.runs[0][-1]:
        return None
    islands = [[wall_behind(shape, recess, w) for w in island] for island in outline.islands]
    outer = list(outline.runs[0][:-1])
    course = circular(shape, outer, islands)
    return looped(shape, recess, outer, islands[0]) if not course and len(islands) == 1 else course


def _holes_at_ends(shape: PartShape, recess: Recess) -> list[Patch]:
    """The holes in which a slot between two walls about one axis ends."""
    low = extent(shape, recess.floors or recess.patches, recess.axis)[0]
    depth = top_of(shape, recess) - low
    rings = rings_of(shape, recess.patches)
    found = [p for ring in rings for p in holes_along(shape, recess, ring.width, depth, ring.origin)]
    return found if recess.seen else []


def _class_of(shape: PartShape, recess: Recess, outline: Outline) -> tuple[FeatureClass, str | None]:
    runs = outline.runs
    if is_vee(shape, recess):
        return ("step", None) if recess.reach else ("slot", "open open")
    if not runs:
        return "planar_face", None
    if len(runs) == 1 and len(runs[0]) > 1 and runs[0][0] == runs[0][-1]:
        if _is_keyseat(shape, recess, runs[0][:-1]):
            return "slot", "woodruff woodruff"
        return ("slot", "radiused radiused") if _is_obround(shape, runs[0][:-1]) else ("closed_pocket", None)
    if around := _around(shape, recess, outline):
        return ("slot", "radiused radiused") if _is_obround(shape, around) else ("closed_pocket", None)
    if recess.shared and not outline.open_to and goes_all_round(shape, recess.core):  # something takes its corners
        return ("slot", "radiused radiused") if _is_obround(shape, recess.core) else ("closed_pocket", None)
    walls = [[w for w in run if _flat(shape, w)] for run in runs]
    one = len(runs) == 2 and all(len(distinct(shape, w)) == 1 for w in walls)
    one = one and not any(_branches(shape, recess, run) for run in runs)
    if one and are_flanks(shape, recess, walls[0][0], walls[1][0]):
        return "slot", "open open"
    if len(runs) == 1:
        return _one_run(shape, recess, runs[0])
    return "open_pocket", None


def _around(shape: PartShape, recess: Recess, outline: Outline) -> tuple[int, ...]:
    """The walls that stand all round a recess above what takes its floor from aside or below; else none."""
    walls = tuple(p for p in recess.patches if is_wall(shape.patches[p], recess.axis))
    if not recess.floors or recess.core != recess.own or recess.bridged or len(distinct(shape, walls)) < 3:
        return ()
    if any(hollow(shape.patches[o]) and is_wall(shape.patches[o], recess.axis) for o in outline.open_to):
        return ()  # a hole in its edge may be the way in
    run = through_outline(shape, replace(recess, patches=walls, floors=())).runs[0]
    return run[:-1] if run[0] == run[-1] and _is_shut_above(shape, recess, outline) else ()


def _is_shut_above(shape: PartShape, recess: Recess, outline: Outline) -> bool:
    """True when metal stands beyond each open edge of the floors, below the mouth, or over it: a window's sill."""
    rims = [r for f in recess.floors for r in shape.patches[f].loops[0] if r.other in outline.open_to]
    for rim in (r for r in rims if r.length > LEDGE):
        way = cross(sub(rim.points[-1], rim.points[0]), recess.axis)
        start = scale(add(rim.points[0], rim.points[-1]), 0.5)
        height = top_of(shape, recess) - OVER - dot(start, recess.axis)
        if norm(way) == 0 or crossings(shape, add(start, recess.axis, height), unit(way), 0.0, math.inf):
            continue
        if not crossings(shape, add(start, unit(way), -OVER), recess.axis, OVER, height):
            return False
    return True


def are_flanks(shape: PartShape, recess: Recess, a: int, b: int) -> bool:
    """True for planes that look at each other, or lean apart: both, or one beside an upright wall no higher.

    A slant opposite a wall that goes on above it is the foot of that wall.
    """
    if _facing(shape, a, b):
        return True
    leans = [dot(shape.patches[p].surface.axis, recess.axis) for p in (a, b)]
    if not all(-SQUARE < lean < 1 - SQUARE for lean in leans) or not _facing(shape, a, b, recess.axis):
        return False
    tops = [top_of(shape, Recess(_with_wall_above(shape, recess, p), recess.axis, (), ())) for p in (a, b)]
    upright, leaning = (top for _, top in sorted(zip(leans, tops, strict=True)))
    return min(leans) > SQUARE or upright < leaning + LEDGE


def _with_wall_above(shape: PartShape, recess: Recess, flank: int) -> tuple[int, ...]:
    """A flank with the walls of a recess that go on up where it ends, and look the same way but for how they lean."""
    way, others = shape.patches[flank].surface.axis, shape.patches[flank].concave
    above = [o for o in others if o in recess.patches and is_wall(shape.patches[o], recess.axis) and _flat(shape, o)]
    side = unit(cross(recess.axis, way))
    return (flank, *(o for o in above if abs(dot(shape.patches[o].surface.axis, side)) < SQUARE))


def _one_run(shape: PartShape, recess: Recess, run: tuple[int, ...]) -> tuple[FeatureClass, str | None]:
    flat = distinct(shape, [w for w in run if _flat(shape, w)])
    if 1 <= len(flat) <= 2 and not _facing(shape, flat[0], flat[-1], recess.axis):
        return "step", None
    if len(flat) == 2 and (_round_end(shape, run, flat) or _conical_end(shape, run, flat)):
        return "slot", "open radiused"
    if len(flat) == 2 and len(run) == 3 and _runs_out(shape, recess, run[1], run[0]) and _is_long(shape, recess, flat):
        return "slot", "open woodruff"
    ends = [shape.patches[w].surface for w in run if not _flat(shape, w)]
    shut = len(flat) == 3 or (len(flat) == 2 and len(ends) == 1 and ends[0].kind == "cylinder" and not ends[0].hollow)
    shut = shut or (len(flat) == 2 and any(touched_one_wall(shape, a, b) for a, b in pairwise(run)))
    shut = shut and not _branches(shape, recess, run)
    if shut and are_flanks(shape, recess, flat[0], flat[-1]) and _is_long(shape, recess, flat):
        return "slot", "open flat"
    return "open_pocket", None


def _branches(shape: PartShape, recess: Recess, run: tuple[int, ...]) -> bool:
    """True where a flat wall runs smoothly into an outer round one after which others go on: a path bends off there."""
    walls = {p for p in recess.patches if is_wall(shape.patches[p], recess.axis)}
    bends = [p for p in (shape.patches[w] for w in run) if p.surface.kind == "cylinder" and not p.surface.hollow]
    return any(
        len(walls & set(p.neighbours)) > 1 and any(_flat(shape, o) for o in walls & set(p.smooth)) for p in bends
    )


def _within(shape: PartShape, outline: Outline, ends: str | None) -> set[int]:
    """Carriers of the walls of a slot that is round at an end, but for those at which it is open."""
    walls = [w for run in outline.runs for w in (run[1:-1] if "open" in (ends or "") else run)]
    return {shape.carriers[w] for w in walls}


def _flat(shape: PartShape, wall: int) -> bool:
    return shape.patches[wall].surface.kind == "plane"


def _facing(shape: PartShape, a: int, b: int, upright: Vec3 | None = None) -> bool:
    """True for planes that look at each other, seen along ``upright`` where given: drafted walls lean against it."""
    first, second = (shape.patches[w].surface.axis for w in (a, b))
    if upright is not None:
        first, second = (unit(cross(upright, d)) for d in (first, second))
    return dot(first, second) < -1 + 1e-4


def _gap(shape: PartShape, a: int, b: int) -> float:
    p, q = shape.patches[a].surface, shape.patches[b].surface
    return abs(dot(sub(p.origin, q.origin), p.axis))


def _is_obround(shape: PartShape, walls: tuple[int, ...]) -> bool:
    walls = tuple(distinct(shape, walls))  # an end may be in pieces
    flat = [w for w in walls if _flat(shape, w)]
    round_ = [w for w in walls if shape.patches[w].surface.kind == "cylinder" and hollow(shape.patches[w])]
    if len(walls) != 4 or len(flat) != 2 or len(round_) != 2 or not _facing(shape, flat[0], flat[1]):
        return False
    return all(abs(2 * shape.patches[r].surface.radius - _gap(shape, *flat)) < 5e-3 for r in round_)


def _is_keyseat(shape: PartShape, recess: Recess, walls: tuple[int, ...]) -> bool:
    """True for two facing flanks between whose ends the floor runs out in the arcs of a disc."""
    flat = [w for w in walls if _flat(shape, w)]
    arcs = [w for w in walls if w not in flat]
    across = len(walls) == 4 and len(flat) == 2 and _facing(shape, flat[0], flat[1])
    return across and all(_runs_out(shape, recess, arc, flat[0]) for arc in arcs)


def _runs_out(shape: PartShape, recess: Recess, end: int, flank: int) -> bool:
    """True for the arc in which a disc leaves the floor between two flanks: it lies across them."""
    arc, side = shape.patches[end].surface, shape.patches[flank].surface
    lies = arc.kind == "cylinder" and arc.hollow and abs(dot(arc.axis, side.axis)) > 1 - SQUARE
    return lies and any(f in shape.patches[end].smooth for f in recess.floors)


def _round_end(shape: PartShape, run: tuple[int, ...], flat: list[int]) -> bool:
    return any(
        hollow(shape.patches[w]) and abs(2 * shape.patches[w].surface.radius - _gap(shape, *flat)) < 5e-3
        for w in run
        if shape.patches[w].surface.kind == "cylinder"
    )


def _conical_end(shape: PartShape, run: tuple[int, ...], flat: list[int]) -> bool:
    """True where a hollow cone runs smoothly into both flanks of a slot that leans all round."""
    cones = [shape.patches[w] for w in run if shape.patches[w].surface.kind == "cone" and hollow(shape.patches[w])]
    return any(set(flat) <= set(cone.smooth) for cone in cones)


def _is_long(shape: PartShape, recess: Recess, flat: list[int]) -> bool:
    along = cross(recess.axis, shape.patches[flat[0]].surface.axis)
    ground = (recess.core or ground_of(shape, recess)) if recess.shared else (flat[0],)
    low, high = extent(shape, ground, along)
    width = _gap(shape, flat[0], flat[-1])
    if not _facing(shape, flat[0], flat[-1]):  # leaning flanks: at the mouth
        left, right = extent(shape, (flat[0], flat[-1]), unit(cross(along, recess.axis)))
        width = right - left
    return high - low >= LONG * width - LIMIT


def _standing(shape: PartShape, recess: Recess, islands: Iterable[tuple[int, ...]]) -> list[set[int]]:
    """The walls of what stands in a recess: islands that meet above the floor are feet of one boss."""
    found: list[set[int]] = []
    for island in islands:
        walls = _all_round(shape, recess, _grown(shape, recess, island))
        near = [other for other in found if other & walls]
        found = [other for other in found if not other & walls]
        found.append(walls.union(*near))
    return found


def _all_round(shape: PartShape, recess: Recess, walls: set[int]) -> set[int]:
    """Walls of one round boss with all of its carrier: what goes through it parts it."""
    carriers = {shape.carriers[w] for w in walls}
    surface = shape.patches[min(walls)].surface
    if len(carriers) > 1 or surface.kind != "cylinder" or surface.hollow:
        return walls
    return {p for p in recess.patches if shape.carriers[p] in carriers}


def _grown(shape: PartShape, recess: Recess, island: tuple[int, ...]) -> set[int]:
    """The walls of an island up to where they leave the recess."""
    members = set(recess.patches) - set(recess.floors)
    walls, waiting = set(island), list(island)
    while waiting:
        index = waiting.pop()
        near = [*joined_to(shape, index), *shape.patches[index].smooth]
        for other in near:
            if other in members and other not in walls:
                walls.add(other)
                waiting.append(other)
    return walls


def _boss(shape: PartShape, sight: Sight, recess: Recess, walls: set[int], entry: float) -> Draft:
    """What stands in a recess: its walls, and its top when that lies below the entry plane."""
    tops = {
        o
        for w in walls
        for o in shape.patches[w].neighbours
        if is_floor(shape.patches[o], recess.axis)
        and o not in recess.floors
        and dot(shape.patches[o].surface.origin, recess.axis) < entry - 1e-3
        and sight.sees((o,), recess.axis)  # else it is the side of a notch in it
    }
    patches = tuple(sorted(walls | tops))
    foot = recess.span[0] if recess.span else -math.inf
    low, high = max(extent(shape, walls, recess.axis)[0], foot), top_of(shape, Recess(patches, recess.axis, (), ()))
    upright = [w for w in sorted(walls) if is_wall(shape.patches[w], recess.axis)] or sorted(walls)
    x = long_direction(shape, Recess(tuple(upright), recess.axis, (), ()))
    y = cross(recess.axis, x)
    spans = [extent(shape, upright, d) for d in (x, y)]
    place = add(add(scale(x, sum(spans[0]) / 2), y, sum(spans[1]) / 2), recess.axis, high)
    sizes: dict[str, object] = {
        "height": high - low,
        "length": spans[0][1] - spans[0][0],
        "width": spans[1][1] - spans[1][0],
    }
    round_ = [shape.patches[w].surface for w in upright]
    if len({shape.carriers[w] for w in upright}) == 1 and round_[0].kind == "cylinder":
        place = add(round_[0].origin, recess.axis, high - dot(round_[0].origin, recess.axis))
    if all(s.kind == "cylinder" and not s.hollow for s in round_):
        sizes["diameter"] = 2 * max(s.radius for s in round_)
        if len({shape.carriers[w] for w in upright}) == 1:  # whatever parts it or cuts a flat on it
            sizes["length"] = sizes["width"] = sizes["diameter"]
    access = tuple(d for d in recess.seen if sight.sees(patches, d, foot if d == recess.axis else -math.inf))
    return Draft("boss", patches, Frame(location=place, axis=recess.axis, ref_direction=x), access, sizes)
