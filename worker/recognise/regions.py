"""What no simple class takes: free-form regions, named by their outline, whatever their faces and triangles are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from schemas.base import Vec3, any_frame, dot, scale
from schemas.tolerances import LEDGE
from worker.kernel.graph_mesh import Corners
from worker.recognise.access import Sight
from worker.recognise.borders import Border, border_of, reaches
from worker.recognise.bulges import mean_normal
from worker.recognise.ids import Draft, in_order
from worker.recognise.mouths import broken_mouth
from worker.recognise.patches import PartShape
from worker.recognise.ring_grooves import lone_boss
from worker.recognise.transitions import chains

Group = tuple[int, ...]
Span = tuple[float, float]
WORLD: tuple[Vec3, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def region_drafts(shape: PartShape, sight: Sight, left: list[int]) -> list[Draft]:
    """Patches that no simple class takes, grouped where they touch smoothly."""
    sides = _sides(shape, sight)
    for side in sides:
        sight.face_together(left, side)
    found = []
    groups = chains(shape, left)
    for group, outline in zip(groups, _outlines(shape, groups), strict=True):
        found.append(lone_boss(shape, sight, group) or _region(shape, sight, group, outline, sides))
    return found


def _region(shape: PartShape, sight: Sight, group: Group, key: tuple[float, ...], sides: tuple[Vec3, ...]) -> Draft:
    """A free-form area, or the chamfer that it is; its axis is the direction it faces most of those that see all of it.

    Asked are the sides of the part, both ways, the axes of round faces, and if none sees it where it faces itself.
    """
    faced = mean_normal(shape.patches[p] for p in group) or shape.patches[group[0]].normal
    tried = sight.distinct([*sides, *_along(shape, group), *sight.sides])
    access = tuple(d for d in tried if sight.sees(group, d)) or ((faced,) if sight.sees(group, faced) else ())
    axis = max(in_order(access, faced), key=lambda d: round(dot(d, faced), 6), default=faced)
    mouth = broken_mouth(shape, group)
    place = any_frame((key[0], key[2], key[4]) if mouth else _middle(shape, group, faced), axis)
    return Draft("chamfer" if mouth else "region", group, place, access, dict(mouth or {}), key=key)


def _sides(shape: PartShape, sight: Sight) -> tuple[Vec3, ...]:
    """Where the part's outer planes look, and the other way."""
    sides = [shape.patches[p].surface.axis for p in sorted(sight.outer)]
    return sight.distinct([*sides, *(scale(side, -1.0) for side in sides)])


def _middle(shape: PartShape, group: Group, faced: Vec3) -> Vec3:
    """The place over the middle of the area, the way that it faces; else the middle of the triangle nearest to it.

    However it is triangulated: over the middle there is one place, of several triangles the part's axes choose one.
    """
    own = [shape.slices[p] for p in group]
    middles = np.concatenate([shape.middles[s] for s in own])
    weights = np.concatenate([shape.areas[s] for s in own]) + 1e-12
    middle = weights @ middles / weights.sum()
    places = _over(np.concatenate([shape.corners[s] for s in own]), middle, faced)
    places = places if len(places) else middles
    away = np.linalg.norm(places - middle, axis=1)
    near = places[away < away.min() + LEDGE]
    x, y, z = near[np.lexsort(np.round(near, 2).T)[-1]].tolist()
    return x, y, z


def _over(corners: Corners, point: NDArray[np.float64], way: Vec3) -> Corners:
    """Where a line through a point meets triangles (n, 3, 3), (k, 3)."""
    line = np.array(way)
    rest, sides = corners - point, np.roll(corners, -1, axis=1) - corners
    turns = np.cross(rest, sides) @ line  # on which side of each the line passes
    size = np.abs(turns).sum(axis=1)
    met = ((turns >= 0).all(axis=1) | (turns <= 0).all(axis=1)) & (size > 1e-12)
    normals = np.cross(sides[met, 0], sides[met, 1])
    heights = np.einsum("ni,ni->n", rest[met, 0], normals) / (normals @ line)
    found: Corners = point + heights[:, None] * line
    return found


def _outlines(shape: PartShape, groups: Sequence[Group]) -> list[tuple[float, ...]]:
    """Middle and size of what surrounds each region, along the part's axes; of a whole skin: of its triangles."""
    borders = [_border(shape, group) for group in groups]
    found: list[list[Span]] = [[] for _ in groups]
    for way in WORLD:
        spans = reaches([b for b in borders if b is not None], way)
        for group, border, told in zip(groups, borders, found, strict=True):
            told.append(shape.patches[group[0]].span(way) if border is None else next(spans))
    return [tuple(part for low, high in told for part in ((low + high) / 2, high - low)) for told in found]


def _border(shape: PartShape, group: Group) -> Border | None:
    """What surrounds a region; None for a whole skin."""
    rims = [rim for p in group for rim in shape.patches[p].rims if rim.other not in group]
    if len(group) == 1 and len(rims) == len(shape.patches[group[0]].rims):
        return shape.patches[group[0]].border if rims else None
    return border_of(rims) if rims else None


def _along(shape: PartShape, group: Group) -> list[Vec3]:
    """The axes of round faces of a group and beside it, both ways."""
    near = sorted({*group, *(o for p in group for o in shape.patches[p].neighbours)})
    axes = [shape.patches[p].surface.axis for p in near if shape.patches[p].surface.kind in ("cylinder", "cone")]
    return [d for a in axes for d in (a, scale(a, -1.0))]
