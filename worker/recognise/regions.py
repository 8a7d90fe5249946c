"""What no simple class takes: free-form regions, named by their outline, whatever their faces and triangles are."""

from __future__ import annotations

import numpy as np

from schemas.base import Vec3, any_frame, dot, scale
from worker.recognise.access import Sight
from worker.recognise.borders import border_of
from worker.recognise.bulges import mean_normal
from worker.recognise.ids import Draft, in_order
from worker.recognise.mouths import broken_mouth
from worker.recognise.patches import PartShape
from worker.recognise.ring_grooves import lone_boss
from worker.recognise.transitions import chains

Group = tuple[int, ...]
WORLD: tuple[Vec3, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def region_drafts(shape: PartShape, sight: Sight, left: list[int]) -> list[Draft]:
    """Patches that no simple class takes, grouped where they touch smoothly."""
    return [lone_boss(shape, sight, group) or _region(shape, sight, group) for group in chains(shape, left)]


def _region(shape: PartShape, sight: Sight, group: Group) -> Draft:
    """A free-form area, or the chamfer that it is; its axis is the direction it faces most of those that see all of it.

    Asked are the sides of the part, both ways, the axes of round faces, and if none sees it where it faces itself.
    """
    faced = mean_normal(shape.patches[p] for p in group) or shape.patches[group[0]].normal
    sides = [shape.patches[p].surface.axis for p in sorted(sight.outer)]
    tried = sight.distinct([*sides, *(scale(side, -1.0) for side in sides), *_along(shape, group), *sight.sides()])
    access = tuple(d for d in tried if sight.sees(group, d)) or ((faced,) if sight.sees(group, faced) else ())
    axis = max(in_order(access, faced), key=lambda d: round(dot(d, faced), 6), default=faced)
    key, mouth = _outline(shape, group), broken_mouth(shape, group)
    place = any_frame((key[0], key[2], key[4]) if mouth else _middle(shape, group), axis)
    return Draft("chamfer" if mouth else "region", group, place, access, dict(mouth or {}), key=key)


def _middle(shape: PartShape, group: Group) -> Vec3:
    """The middle of the triangle that lies nearest to the middle of the area."""
    corners = np.concatenate([shape.patches[p].corners for p in group])
    middles = corners.mean(axis=1)
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    away = np.linalg.norm(middles - np.average(middles, axis=0, weights=areas + 1e-12), axis=1)
    x, y, z = middles[int(away.argmin())].tolist()
    return x, y, z


def _outline(shape: PartShape, group: Group) -> tuple[float, ...]:
    """Middle and size of what surrounds a region, along the part's axes; of a whole skin: of its triangles."""
    rims = [rim for p in group for rim in shape.patches[p].rims if rim.other not in group]
    border = border_of(rims)
    spans = [border.reach(d) if rims else shape.patches[group[0]].span(d) for d in WORLD]
    return tuple(part for low, high in spans for part in ((low + high) / 2, high - low))


def _along(shape: PartShape, group: Group) -> list[Vec3]:
    """The axes of round faces of a group and beside it, both ways."""
    near = sorted({*group, *(o for p in group for o in shape.patches[p].neighbours)})
    axes = [shape.patches[p].surface.axis for p in near if shape.patches[p].surface.kind in ("cylinder", "cone")]
    return [d for a in axes for d in (a, scale(a, -1.0))]
