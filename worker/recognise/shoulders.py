"""What is cut into a shaft up to its shoulder, in whose plane it ends: one face, to which both have a wall."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from schemas.base import cross, dot, norm, sub
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.flush import ground_level
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, components

TURNED = ("cylinder", "cone", "torus")
Reader = Callable[[PartShape, Sight, tuple[int, ...]], list[Recess]]


def at_shoulder(shape: PartShape, sight: Sight, group: tuple[int, ...], read: Reader) -> list[Recess]:
    """The recesses of a group that all end at the shoulder of a shaft, and that; none where it is no such group.

    ``read``: reads what is left without the shoulder.
    """
    for plane in group:
        rest = components(shape, [p for p in group if p != plane]) if _is_shoulder(shape, plane) else []
        shafts = [g for g in rest if all(_stands_on(shape, p, plane) for p in g)]
        others = [g for g in rest if g not in shafts]
        way = sight.known(shape.patches[plane].surface.axis)
        shaft = tuple(sorted(p for g in shafts for p in g))
        if (
            not shaft
            or not others
            or not all(_is_cut_in(shape, g, shaft) for g in others)
            or not sight.sees(shaft, way)
        ):
            continue
        found = [r for g in others for r in read(shape, sight, g)]
        if sight.sees(shaft, way) and all(_ends_at(shape, r, plane, shaft) for r in found):
            own = Recess(tuple(sorted((plane, *shaft))), way, (plane,), (way,), core=shaft)
            return [own, *(_ended(shape, r, plane, shaft) for r in found)]
    return []


def _is_shoulder(shape: PartShape, patch: int) -> bool:
    """True for a plane that a turned outside bounds."""
    plane = shape.patches[patch]
    if plane.surface.kind != "plane" or not any(r.convexity == "concave" for r in plane.rims):
        return False
    outside = [shape.patches[r.other].surface for r in plane.loops[0]]
    return all(s.kind in TURNED and not s.hollow and norm(cross(s.axis, plane.surface.axis)) < SQUARE for s in outside)


def _stands_on(shape: PartShape, patch: int, shoulder: int) -> bool:
    """True for a shaft's round wall that begins at a shoulder."""
    surface, plane = shape.patches[patch].surface, shape.patches[shoulder].surface
    outer = surface.kind == "cylinder" and not surface.hollow and norm(cross(surface.axis, plane.axis)) < SQUARE
    return outer and shoulder in shape.patches[patch].concave


def _is_cut_in(shape: PartShape, group: tuple[int, ...], shaft: tuple[int, ...]) -> bool:
    """True for patches of which some begin at an edge of a shaft's wall."""
    return any(set(shape.patches[p].convex) & set(shaft) for p in group)


def _ends_at(shape: PartShape, recess: Recess, shoulder: int, shaft: tuple[int, ...]) -> bool:
    """True for a recess that is seen, and whose floor ends at a shoulder, nearer to the axis than the shaft's wall."""
    line = shape.patches[shaft[0]].surface
    deep = [dot(sub(shape.patches[f].surface.origin, line.origin), recess.axis) for f in recess.floors]
    ends = any(shoulder in shape.patches[f].concave for f in recess.floors)
    return bool(recess.seen) and ends and abs(dot(recess.axis, line.axis)) < SQUARE and max(deep) < line.radius


def _ended(shape: PartShape, recess: Recess, shoulder: int, shaft: tuple[int, ...]) -> Recess:
    """A recess with the shoulder for a wall, as high as the shaft."""
    line = shape.patches[shaft[0]].surface
    patches = tuple(sorted((*recess.patches, shoulder)))
    span = (ground_level(shape, recess), dot(line.origin, recess.axis) + line.radius)
    return replace(recess, patches=patches, core=recess.patches, shared=True, span=span)
