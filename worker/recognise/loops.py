"""Grooves of one width that close on themselves round any outline (ISO 14649-10 general path): seats of seals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from schemas.base import Vec3, add, cross, dot, norm, sub, unit
from schemas.tolerances import LIMIT, SAME_LENGTH, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.borders import Border, border_of, circle_of
from worker.recognise.curved import LONG, Course, Sizes
from worker.recognise.divided_outlines import Ring, rings_of
from worker.recognise.extent import extent
from worker.recognise.passages import distinct
from worker.recognise.patches import PartShape, Rim, chained
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess, is_wall, long_direction

Gone = tuple[Surface, ...]


def looped(shape: PartShape, recess: Recess, outer: Sequence[int], inner: Sequence[int]) -> Course | None:
    """The course of a recess between the walls all round it and those of what stands in it.

    None where its width varies, where that is lower than the mouth, or not ``LONG`` times as wide as the groove: such
    is a pocket with an island. ``length`` is that of the middle line (mm).
    """
    sides = [distinct(shape, outer), distinct(shape, inner)]
    upright = all(is_wall(shape.patches[w], recess.axis) for w in (*sides[0], *sides[1]))
    if not recess.floors or not upright or not _as_high(shape, recess, sides):
        return None
    width = _width(shape, sides[0], sides[1])
    if width is None or _least(shape, sides[1]) < LONG * width - LIMIT:
        return None
    sizes: Sizes = {"width": width, "length": _middle(shape, recess), "course_of_travel": "general"}
    return Course("loop", sizes)


def cut_loop(shape: PartShape, recess: Recess, sunk: frozenset[int]) -> Course | None:
    """The course of such a recess of which something deeper took stretches or corners; None where nothing did.

    Its length is that of the whole: corners that are gone are as round as those that are left.
    """
    rings = rings_of(shape, recess, sunk) if recess.floors else []
    if len(rings) != 2 or all(ring.whole for ring in rings):
        return None
    inner, outer = sorted(rings, key=lambda ring: _girth(shape, ring.walls))
    sides = [distinct(shape, ring.walls) for ring in (outer, inner)]
    width = _width(shape, sides[0], sides[1], (outer.gone, inner.gone)) if _as_high(shape, recess, sides) else None
    if width is None or _least(shape, sides[1]) < LONG * width - LIMIT:
        return None
    known = [ring.length for ring in rings if ring.length is not None]
    length = sum(known) / 2 if len(known) == 2 else None
    sizes: Sizes = {"width": width, "length": length, "course_of_travel": "general"}
    return Course("loop", sizes, centre=_centre(shape, recess, outer))


def _centre(shape: PartShape, recess: Recess, ring: Ring) -> Vec3 | None:
    """The middle of a ring, as if it were whole."""
    if not ring.bends:
        return None
    x = long_direction(shape, recess)
    place: Vec3 = (0.0, 0.0, 0.0)
    for way in (x, cross(recess.axis, x)):
        place = add(place, way, sum(ring.reach(way)) / 2)
    return place


def _girth(shape: PartShape, walls: Sequence[int]) -> float:
    ways = [shape.patches[w].surface.axis for w in walls if shape.patches[w].surface.kind == "plane"]
    return sum(high - low for low, high in (extent(shape, walls, way) for way in ways))


def _as_high(shape: PartShape, recess: Recess, sides: Sequence[Sequence[int]]) -> bool:
    tops = [top_of(shape, Recess(tuple(side), recess.axis, (), ())) for side in sides]
    return abs(tops[0] - tops[1]) < SAME_LENGTH


def _width(
    shape: PartShape, outer: Sequence[int], inner: Sequence[int], cut: tuple[Gone, Gone] | None = None
) -> float | None:
    """How far two rings of walls are apart, everywhere; None where that varies.

    Corners are round about one middle, or sharp inside and no rounder than a cutter as wide leaves outside. ``cut``:
    walls of both that are gone; the corner on the other side may be, too.
    """
    far, near = ([shape.patches[w].surface for w in side] for side in (outer, inner))
    far, near = ([*far, *cut[0]], [*near, *cut[1]]) if cut else (far, near)
    gaps = [min((g for q in near if (g := _gap(p, q))), default=0.0) for p in far if p.kind == "plane"]
    gaps += [min((g for p in far if (g := _gap(p, q))), default=0.0) for q in near if q.kind == "plane"]
    width = max(gaps, default=0.0)
    if not gaps or min(gaps) < width - SAME_LENGTH or width <= 0:
        return None
    for ours, others in ((far, near), (near, far)):
        for wall in (s for s in ours if s.kind != "plane"):
            sharp = wall.hollow and wall.radius < width + SAME_LENGTH
            gone = cut is not None and not any(o.kind == "cylinder" and _is_about(wall, o) for o in others)
            if not sharp and not gone and not any(_is_beside(wall, other, width) for other in others):
                return None
    return width


def gap_of(a: Surface, b: Surface) -> float:
    """How far two walls are apart that face each other, flat or round about one axis (mm); 0 for others."""
    if a.kind == b.kind == "cylinder" and a.hollow != b.hollow and _is_about(a, b):
        return max((a.radius - b.radius) * (1 if a.hollow else -1), 0.0)
    return _gap(a, b)


def _gap(a: Surface, b: Surface) -> float:
    """How far two planes that face each other are apart (mm); 0 for others."""
    facing = a.kind == b.kind == "plane" and dot(a.axis, b.axis) < -1 + SQUARE**2
    return max(dot(sub(b.origin, a.origin), a.axis), 0.0) if facing else 0.0


def _is_beside(a: Surface, b: Surface, width: float) -> bool:
    """True for two round walls about one axis, one hollow, the other not, so far apart."""
    if a.kind != "cylinder" or b.kind != "cylinder" or a.hollow == b.hollow:
        return False
    outer, inner = (a, b) if a.hollow else (b, a)
    return _is_about(a, b) and abs(outer.radius - inner.radius - width) < SAME_LENGTH


def _is_about(a: Surface, b: Surface) -> bool:
    """True for round walls about one axis."""
    off = sub(a.origin, b.origin)
    return norm(add(off, a.axis, -dot(off, a.axis))) < SAME_LENGTH


def _least(shape: PartShape, walls: Sequence[int]) -> float:
    """The least width of what some walls bound, across each of the flat ones (mm)."""
    ways = [shape.patches[w].surface.axis for w in walls if shape.patches[w].surface.kind == "plane"]
    spans = [extent(shape, walls, way) for way in ways]
    return min(high - low for low, high in spans)


def _middle(shape: PartShape, recess: Recess) -> float | None:
    """The length of the line half way between both sides: the mean of a floor's outer and inner edge.

    None where something divides the floor.
    """
    if len(recess.floors) > 1:
        return None
    outer, *others = shape.patches[recess.floors[0]].loops
    walled = [loop for loop in others if any(r.other in recess.patches for r in loop)]  # not the mouths of holes
    return sum(length_of(r) for loop in (outer, *walled) for r in loop) / 2


def length_of(rim: Rim) -> float:
    """How long an edge is (mm); of an arc not its chords."""
    circle = circle_of(rim) if rim.curve == "circle" else None
    if not circle:
        return rim.length
    chords = [norm(sub(b, a)) for a, b in pairwise(rim.points)]
    return sum(2 * circle[2] * math.asin(min(chord / (2 * circle[2]), 1.0)) for chord in chords)


def round_loop(shape: PartShape, recess: Recess, bottom: Sequence[int]) -> Sizes | None:
    """The sizes of a groove whose bottom is one tube that closes on itself round an outline; None for any other."""
    surfaces = [shape.patches[p].surface for p in bottom]
    tubes = [_tube(s, recess) for s in surfaces]
    members = set(recess.patches)
    mouth = chained([r for p in recess.patches for r in shape.patches[p].rims if r.other not in members])
    lying = [s for s in surfaces if s.kind == "cylinder"]
    if min(tubes) <= 0 or max(tubes) - min(tubes) > SAME_LENGTH or not lying or len(mouth) != 2:
        return None
    borders = sorted((border_of(loop) for loop in mouth), key=lambda b: _across(b, recess, lying[0]))
    levels = [level for border in borders for level in border.reach(recess.axis)]
    radius, low = tubes[0], extent(shape, recess.patches, recess.axis)[0]
    depth = min(max(levels) - low, radius)
    width = 2 * math.sqrt(depth * (2 * radius - depth))
    least = min(_across(borders[0], recess, s) for s in lying)
    if max(levels) - min(levels) > SAME_LENGTH or least < LONG * width - LIMIT:
        return None
    length = sum(length_of(r) for loop in mouth for r in loop) / 2
    return {"width": width, "length": length, "course_of_travel": "general"}


def _tube(surface: Surface, recess: Recess) -> float:
    """The radius of a lying hollow cylinder, or of an upright ring's tube (mm); 0 for others."""
    lies = abs(dot(surface.axis, recess.axis)) < SQUARE
    if surface.kind == "cylinder":
        return surface.radius if lies and surface.hollow else 0.0
    upright = surface.kind == "torus" and norm(cross(surface.axis, recess.axis)) < SQUARE
    return surface.minor if upright and surface.hollow else 0.0


def _across(border: Border, recess: Recess, along: Surface) -> float:
    """How wide an edge is across a lying cylinder (mm)."""
    low, high = border.reach(unit(cross(recess.axis, along.axis)))
    return high - low
