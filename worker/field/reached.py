"""How far down a round cutter gets on a free form that may be too tight for it: by height maps (setup's frame, mm).

Where the tip may stand is the highest, over all places of the form, of what each lets the cutter down to (a dilation by
its profile); what stands above the form then is the lowest that the cutter comes from any of these places. Both are
taken on one grid, so the truth lies between two bounds:

* Between places of the grid a flat bit of the form, ``d`` wide along it, lets a corner of radius r sink in by
  ``d^2 / (2 r)`` at most: what stands may be told too low by that, ``1 / n`` of it upright where the unit normal is n
  high.
* The cutter may stand between two places of the grid. One that is slimmer all round by the way to the next place stands
  no higher there, and one that is wider by as much covers what the cutter covers: together they tell a height above
  which the truth lies. At the places themselves the cutter comes no lower than anywhere: that tells the other bound.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from schemas.tool import Tool
from worker.field.lines import Floats, Mask, spread
from worker.field.solids import Lifted, bare_sides
from worker.field.surface import crossings
from worker.field.view import View

WORK = 4e7
"""Places of the grid times places under the cutter, about."""
LEAST_GRID = 0.05
MOST_PIECES = 60_000
STEEPEST = 0.05
"""Height of a unit normal below which a bit of a form counts as that steep."""


@dataclass(frozen=True, eq=False)
class Nearly(Lifted):
    """What stands on a form or on what the cutter leaves on it; ``unsure``: how far its volume may be off (mm3)."""

    unsure: float = 0.0

    def doubt(self, top: float) -> tuple[float, float]:
        """How far the volume may be off, and what lines miss of it, mm3."""
        return self.unsure, 0.0


@dataclass(frozen=True, eq=False)
class _Map:
    """Heights (n, m) of a form at places of a grid, far below where it is not."""

    xs: Floats
    ys: Floats
    g: float
    heights: Floats

    @property
    def held(self) -> Mask:
        return self.heights > -np.inf


def reached(view: View, top: float, faces: Floats, tool: Tool) -> Nearly:
    """What a cutter with a round corner takes above triangles (n, 3, 3) that look up, as it alone holds it off."""
    form = _map_of(faces, tool.radius)
    most, least = (_left(form, faces, tool, apart) for apart in (0.0, form.g / math.sqrt(2)))
    sure = least > 0.0
    raised = np.where(sure, (most + least) / 2, 0.0)
    nz, plan = _normals(faces)
    too_low = float(np.sum(plan / nz**3)) * form.g**2 / (4 * tool.corner_radius)
    unsure = float(np.where(sure, (most - least) / 2, most).sum()) * form.g**2 + too_low
    return Nearly(view, _lifted(faces, form, raised) if sure.any() else faces, top, unsure)


def _left(form: _Map, faces: Floats, tool: Tool, apart: float) -> Floats:
    """What stands above the form, by a cutter so much slimmer where it is held off and wider where it takes."""
    stands = _over(form, _tips(form, faces, tool, apart), tool, apart)
    return np.maximum(np.where(form.held, stands - np.where(form.held, form.heights, 0.0), 0.0), 0.0)


def _normals(faces: Floats) -> tuple[Floats, Floats]:
    """Heights of the triangles' unit normals, and their areas seen along z."""
    across = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    size = np.maximum(np.linalg.norm(across, axis=1), 1e-12)
    return np.maximum(across[:, 2] / size, STEEPEST), across[:, 2] / 2


def _map_of(faces: Floats, radius: float) -> _Map:
    low, high = faces[:, :, :2].min(axis=(0, 1)), faces[:, :, :2].max(axis=(0, 1))
    size = high - low
    g = max(float((size[0] * size[1] * math.pi * radius**2 / WORK) ** 0.25), LEAST_GRID)
    xs, ys = (np.arange(low[k] + g / 3, high[k], g) for k in (0, 1))
    line, at, _ = crossings(faces, (0, 1, 2), xs, ys)
    heights = np.full(len(xs) * len(ys), -np.inf)
    np.maximum.at(heights, line, at)
    return _Map(xs, ys, g, heights.reshape(len(xs), len(ys)))


def _profile(away: Floats, tool: Tool) -> Floats:
    """Height of the cutter's surface above its tip so far off its axis; infinite past its radius."""
    r = tool.corner_radius
    bent = np.maximum(away - (tool.radius - r), 0.0)
    return np.where(away <= tool.radius, r - np.sqrt(np.maximum(r * r - bent * bent, 0.0)), np.inf)


def _steps(form: _Map, tool: Tool, wider: float) -> tuple[int, Floats]:
    """Places under the cutter to either side of its axis, and its profile over them, (2 n + 1, 2 n + 1)."""
    n = int((tool.radius + max(wider, 0.0)) / form.g)
    away = form.g * np.hypot(*np.mgrid[-n : n + 1, -n : n + 1])
    return n, _profile(np.maximum(away - wider, 0.0), tool)


def _tips(form: _Map, faces: Floats, tool: Tool, slimmer: float) -> Floats:
    """How low the tip may stand over the grid and so far round it that the cutter leaves the form."""
    n, profile = _steps(form, tool, -slimmer)
    beside = _steps(form, tool, slimmer)[0]
    wide = np.pad(form.heights, n + beside, constant_values=-np.inf)
    shape = form.heights.shape[0] + 2 * beside, form.heights.shape[1] + 2 * beside
    found = np.full(shape, -np.inf)
    for i, j in zip(*np.nonzero(np.isfinite(profile)), strict=True):
        np.maximum(found, wide[i : i + shape[0], j : j + shape[1]] - profile[i, j], out=found)
    _raise_at_border(found, form, beside, faces, tool, slimmer)
    return found


def _raise_at_border(tips: Floats, form: _Map, n: int, faces: Floats, tool: Tool, slimmer: float) -> None:
    """The same by corners of the triangles and points along the form's border, which no place of the grid may show."""
    sides = bare_sides(faces)
    pieces = np.maximum(np.ceil(np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1) / form.g * 2), 1).astype(np.int64)
    which, k = spread(np.zeros(len(pieces), np.int64), pieces)
    along = sides[which, 0] + (k / pieces[which])[:, None] * (sides[which, 1] - sides[which, 0])
    points = np.unique(np.round(np.concatenate((along, faces.reshape(-1, 3))), 6), axis=0)
    x0, y0 = form.xs[0] - n * form.g, form.ys[0] - n * form.g
    around = np.arange(-n - 1, n + 2)
    for some in np.array_split(points, len(points) * len(around) ** 2 // 2_000_000 + 1):
        i = np.round((some[:, 0] - x0) / form.g).astype(np.int64)[:, None] + around
        j = np.round((some[:, 1] - y0) / form.g).astype(np.int64)[:, None] + around
        gap = np.hypot((x0 + i * form.g - some[:, :1])[:, :, None], (y0 + j * form.g - some[:, 1:2])[:, None, :])
        low = some[:, 2, None, None] - _profile(gap + slimmer, tool)
        on = (i >= 0) & (i < tips.shape[0]), (j >= 0) & (j < tips.shape[1])
        fits = (low > -np.inf) & on[0][:, :, None] & on[1][:, None]
        i, j = np.broadcast_to(i[:, :, None], gap.shape), np.broadcast_to(j[:, None, :], gap.shape)
        np.maximum.at(tips, (i[fits], j[fits]), low[fits])


def _over(form: _Map, tips: Floats, tool: Tool, wider: float) -> Floats:
    """How low the cutter comes over each place of the grid from all places where its tip may stand."""
    _, profile = _steps(form, tool, wider)
    shape, free = form.heights.shape, np.where(tips > -np.inf, tips, np.inf)
    found = np.full(shape, np.inf)
    for i, j in zip(*np.nonzero(np.isfinite(profile)), strict=True):
        np.minimum(found, free[i : i + shape[0], j : j + shape[1]] + profile[i, j], out=found)
    return found


def _lifted(faces: Floats, form: _Map, raised: Floats) -> Floats:
    """The triangles in pieces about as small as cells, brought up by what is left at the place of the grid next to each
    corner."""
    while _longest(faces) > 2 * form.g and len(faces) < MOST_PIECES:
        faces = _halved(faces)
    i, j = (
        np.clip(np.round((faces[:, :, k] - at[0]) / form.g).astype(np.int64), 0, len(at) - 1)
        for k, at in enumerate((form.xs, form.ys))
    )
    lifted = faces.copy()
    lifted[:, :, 2] += raised[i, j]
    return lifted


def _longest(faces: Floats) -> float:
    ways = (faces[:, (1, 2, 0)] - faces)[:, :, :2]
    return float(np.hypot(ways[..., 0], ways[..., 1]).max())


def _halved(faces: Floats) -> Floats:
    """Each triangle in four, by the middles of its sides."""
    a, b, c = faces.transpose(1, 0, 2)
    p, q, r = (a + b) / 2, (b + c) / 2, (c + a) / 2
    four = ((a, p, r), (p, b, q), (r, q, c), (p, q, r))
    return np.concatenate([np.stack(corners, axis=1) for corners in four])
