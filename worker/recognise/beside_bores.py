"""Recesses with bores of their own depth in their edge: one floor, of which each has its own part."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from schemas.base import Vec3, add, dot, sub
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight
from worker.recognise.borders import border_of
from worker.recognise.extent import extent
from worker.recognise.feet import Feet
from worker.recognise.patches import PartShape, Rim
from worker.recognise.recesses import Recess, directions, hollow, is_wall


def beside_bores(shape: PartShape, recess: Recess) -> Callable[[Vec3], tuple[float, float]] | None:
    """How far a recess reaches along a direction but for bores of its own depth in its edge; None for no such."""
    bores = _bores(shape, recess)
    if not bores:
        return None
    walls = tuple(p for p in recess.patches if p not in recess.floors)
    loops = [shape.patches[f].loops[0] for f in recess.floors]
    border = border_of([r for loop in loops for r in _before_walls(shape, recess, loop, bores) if r.other not in bores])

    def reach(way: Vec3) -> tuple[float, float]:
        spans = [border.reach(way), *([extent(shape, walls, way)] if walls else [])]
        return min(s[0] for s in spans), max(s[1] for s in spans)

    return reach


def seen_past_bores(shape: PartShape, sight: Sight, recess: Recess) -> tuple[Vec3, ...]:
    """From where else a recess is seen but for what bores of its own depth in its edge have of its floor.

    Its own part of the floor lies before all its walls, which are flat.
    """
    walls = tuple(p for p in recess.patches if p not in recess.floors)
    flat = all(shape.patches[w].surface.kind == "plane" and is_wall(shape.patches[w], recess.axis) for w in walls)
    if not recess.seen or not recess.floors or not walls or not flat or not _bores(shape, recess):
        return ()
    surfaces = (shape.patches[w].surface for w in walls)
    feet: Feet = tuple(sorted({(s.axis, dot(s.origin, s.axis)) for s in surfaces}))
    tried = (d for d in directions(shape, sight, recess.patches) if d not in recess.seen)
    return tuple(d for d in tried if sight.sees(walls, d) and sight.sees(recess.floors, d, feet=feet))


def _before_walls(shape: PartShape, recess: Recess, loop: tuple[Rim, ...], bores: set[int]) -> list[Rim]:
    """A floor's border with its open sides no longer than they are before the walls whose ends bores took there."""
    found: list[Rim | None] = list(loop)
    count = len(loop)
    for k, rim in enumerate(loop):
        for step in (1, -1):
            at = k + step
            while loop[at % count].other in bores and loop[k].other in recess.patches:
                at += step
            if at != k + step and shape.patches[rim.other].surface.kind == "plane":
                _shorten(shape, found, (at, step), recess, shape.patches[rim.other].surface)
    return [rim for rim in found if rim]


def _shorten(shape: PartShape, rims: list[Rim | None], turn: tuple[int, int], recess: Recess, wall: Surface) -> None:
    """Ends the open sides that come one after another from there on before a wall's plane, up to the first that some
    of lies before it; what lies behind it is a bore's own way out. ``turn``: where in the border, and which way on."""
    at, step = turn
    for k in (n % len(rims) for n in range(at, at + step * len(rims), step)):
        rim = rims[k]
        if rim is None:
            continue
        low, high = sorted((rim.points[0], rim.points[-1]), key=lambda p: dot(sub(p, wall.origin), wall.axis))
        below, above = (dot(sub(p, wall.origin), wall.axis) for p in (low, high))
        if rim.other in recess.patches or (rim.curve != "line" and not _is_hole(shape, recess, rim.other)):
            return
        if above <= 0.0:
            rims[k] = None
            continue
        if below < 0.0:
            foot = add(low, sub(high, low), below / (below - above))
            rims[k] = replace(rim, points=(foot, high), curve="line")
        return


def _bores(shape: PartShape, recess: Recess) -> set[int]:
    rims = [r for f in recess.floors for r in shape.patches[f].rims]
    return {r.other for r in rims if r.convexity == "concave" and _is_hole(shape, recess, r.other)}


def _is_hole(shape: PartShape, recess: Recess, other: int) -> bool:
    """True for the wall of a hole beside a recess, or in its floor."""
    patch = shape.patches[other]
    return (
        other not in recess.patches
        and patch.surface.kind == "cylinder"
        and hollow(patch)
        and is_wall(patch, recess.axis)
    )
