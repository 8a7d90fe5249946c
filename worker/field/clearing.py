"""Cutters that travel: a ground cleared from its bottom up, height by height, by a disc (setup's frame, mm)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from schemas.tolerances import COINCIDENT, OPENING_SLACK
from worker.field.borders import bordered
from worker.field.carved import carved, sharp
from worker.field.fitted import FITS_NONE, Fit
from worker.field.lines import Floats, subtract
from worker.field.plane import Disc, Everywhere, Grown, Join, Known, Minus, Region, Remembered, Shadow, Shrunk, known
from worker.field.rooted import from_outside, rooted
from worker.field.rounded import Cleared, Floor, rounded
from worker.field.scene import Scene
from worker.field.solids import Layer, Layers
from worker.field.stated import passes
from worker.field.tight import Box2, Nowhere, Opened, opened
from worker.field.triangles import CHORD
from worker.stage.model import Cut

SAME = 1e-9
Asked = tuple[Region, float, float, float, float | None, frozenset[int], float, Box2]
"""A level that is to be opened: its ground, the allowance and diameter of its cutter, its height, that from which the
workholding bars it, faces that do not, radius and rectangle."""
CORNER_SHARE = 2.5e-3
"""Share of the corners' area that the points along their arcs can miss."""
ARC = 2 * 0.0609
"""Area that scan lines ``h`` apart miss of one left corner, in ``h^1.5 sqrt(2 r)``: its two arcs turn along them."""


@dataclass(frozen=True)
class Task:
    """A ground, the part's bottom there, where the cut must begin (None: anywhere), how far it is cut deeper.

    ``beside``: at any height the cut may begin where it touches ``seed``: a slope stands in its own plan. ``only``: the
    one disc in which a cutter of the ground's own size stands, which no scan line would find. ``axis``: where such a
    cutter stands (x, y) if it has no room elsewhere, of a ground that is as wide as the cutter only low down.
    ``sloping``: where a floor that slopes ends; it is cut in passes, and below the first that has room nothing is.
    ``fit``: hollow faces that the cutter's corner makes no obstacle. ``outside``: the cutter comes from past the metal.
    """

    ground: Region
    nominal: float
    seed: Region | None = None
    lowered: float = 0.0
    beside: bool = False
    only: Disc | None = None
    axis: tuple[float, float] | None = None
    sloping: float | None = None
    fit: Fit = FITS_NONE
    outside: bool = False


def clear(scene: Scene, cut: Cut, task: Task) -> list[Layers]:
    """What the cutter takes: at each height the ground without the part and workholding above, as far as it fits."""
    found, corner = _cleared(scene, cut, task), cut.tool.corner_radius
    follows = task.fit.followed
    if follows and not task.fit.tighter and not task.fit.onward:
        corner = 0.0  # what it clears ends on the faces that it follows, not in its own round
    if not follows and corner <= COINCIDENT:
        return [Layers(scene.view, tuple(level.layer for level in found))]
    faces = scene.up_of(follows)
    faces = faces if task.fit.bed is None else np.concatenate((faces, task.fit.bed))
    rounds = [task.fit.round_at(level.layer.low, corner) for level in found]
    return [_with_floor(scene, level, r, faces, task.axis is not None) for level, r in zip(found, rounds, strict=True)]


def _with_floor(scene: Scene, level: Cleared, corner: float, faces: Floats, of_hole: bool) -> Floor:
    floor = rounded(scene, level, corner) if corner > COINCIDENT else sharp(scene, level)
    return carved(scene, floor, faces, of_hole) if len(faces) else floor


def _cleared(scene: Scene, cut: Cut, task: Task) -> list[Cleared]:
    """The levels from the tip up, each holding the one below it."""
    step, tool, stated_ground = cut.step, cut.tool, task.ground
    task = replace(task, ground=Remembered(_grown(scene, task.ground, -step.allowance_side, tool.diameter)))
    stated = step.bottom_z is not None
    bottom = step.bottom_z if step.bottom_z is not None else task.nominal + step.allowance_bottom - task.lowered
    raised = 0.0 if stated else max(step.allowance_bottom, 0.0)
    bounds = bounds_of(scene, task.ground)
    steps = passes(cut, bottom, task.sloping + raised) if task.sloping is not None else []
    heights = _heights(scene, task, bounds, bottom, raised, steps)
    levels: list[Cleared] = []
    before, whole = (-1.0, -1.0, 0.0), _extents(known(task.ground, scene.scan_lines))
    root = task.seed
    for low, high in pairwise([*heights, scene.top]):
        held = None if stated else max(low, task.nominal)  # an overcut goes on down, also into what holds the stock
        z = max(low - raised, task.nominal)
        free = _free(scene, task, z, step.allowance_side, held)
        scanned = known(free, scene.scan_lines)
        size = (*_extents(scanned), _jaws_above(scene, held))
        if levels and all(_alike(a, b) for a, b in zip(size, before, strict=True)):
            levels[-1] = levels[-1].up_to(high)
            continue
        wide = max(tool.radius, task.fit.round_at(low, tool.corner_radius))
        if task.only is None:
            barred = held if _jaws_above(scene, held) else None
            asked = stated_ground, step.allowance_side, tool.diameter, z, barred, task.fit.passed, wide, bounds
            fit, seen = _opened(scene, asked, free, scanned)
        else:
            fit, seen = _plunged(scene, task.only, scanned), scanned
        if isinstance(fit, Nowhere) and task.axis is not None:
            fit = _sunk(scene, Disc(*task.axis, tool.radius - OPENING_SLACK), scanned)
        covered = None if isinstance(fit, Nowhere) else _covered(scene, fit, seen, root, task)
        if task.sloping is not None and not levels and not _over_metal(scene, covered):
            continue  # nor where it has room past open ends alone: no line there tells what hangs together
        if covered is None and not levels and task.seed is None:
            continue
        if covered is None:
            break
        layer = Layer(low, high, covered, *_doubt(scene, scanned, covered, fit))
        levels.append(Cleared(layer, free, fit, covered))
        before, root = size, None if task.seed is None else Join((covered, task.seed))
        # nothing stands in the ground, nor does anything higher up
        if all(_alike(a, b) for a, b in zip(size, (*whole, 0.0), strict=True)):
            levels[-1] = levels[-1].up_to(scene.top)
            break
    return levels


def _opened(scene: Scene, asked: Asked, free: Region, scanned: Known) -> tuple[Region, Known]:
    """What a disc can cover of what is free, and what the scan lines see of that: planes at several heights, and passes
    over one ground, ask for the same levels above them again and again."""
    ground, *rest = asked
    key = (Everywhere if isinstance(ground, Everywhere) else ground, *rest)
    if key not in scene.opened:
        *_, wide, bounds = asked
        fit = opened(free, wide, bounds)
        found = fit, known(replace(fit, region=scanned), scene.scan_lines) if isinstance(fit, Opened) else scanned
        if not isinstance(fit, Opened) or scene.has_room_for(fit.size):
            scene.opened[key] = found
        return found
    return scene.opened[key]


def _jaws_above(scene: Scene, height: float | None) -> int:
    """How many triangles of the workholding bar the cutter there: it may do so from where no scan line comes."""
    if height is None:
        return 0
    return int(np.count_nonzero(scene.held_up[:, :, 2].max(axis=1, initial=-np.inf) > height + COINCIDENT))


def _extents(region: Known) -> tuple[float, float]:
    """What the lines along x see of a region, and those along y: a border that runs along the one set may move from one
    height to the next without passing any of its lines."""
    first, second = (float((lines.stop - lines.start).sum()) for lines in region.lines)
    return first, second


def _alike(a: float, b: float) -> bool:
    return abs(a - b) <= SAME * max(a, 1.0)


def _grown(scene: Scene, ground: Region, past: float, reach: float) -> Region:
    """The ground, where the cutter goes past the walls into them by as much."""
    if past <= COINCIDENT:
        return ground
    return Grown(bordered(ground, scene.room, reach, scene.scan_lines[0]), past)


def _over_metal(scene: Scene, covered: Known | None) -> bool:
    """Whether both sets of lines see what is covered of the metal's rectangle."""
    if covered is None:
        return False
    rooms = ((scene.room[k], scene.room[k + 2]) for k in (0, 1))
    sizes = zip(covered.lines, rooms, strict=True)
    return all(bool(np.any((some.stop > low) & (some.start < high))) for some, (low, high) in sizes)


def _plunged(scene: Scene, only: Disc, free: Known) -> Region:
    """The ground where nothing stands in the one disc that the cutter takes; else nowhere. Chords of a mouth that runs
    up and down, in a round wall say, stand in it and are none of the part."""
    at, clear_of_chords = scene.scan_lines, replace(only, radius=only.radius - CHORD)
    kept = (subtract(clear_of_chords.scan(k, at[k]), free.lines[k]) for k in (0, 1))
    return Nowhere() if any(len(lines) for lines in kept) else free


def _sunk(scene: Scene, disc: Disc, free: Known) -> Region:
    """The one disc that a cutter takes where nothing stands in it; else nowhere."""
    return disc if not isinstance(_plunged(scene, disc, free), Nowhere) else Nowhere()


def _heights(
    scene: Scene, task: Task, bounds: Box2, bottom: float, raised: float, steps: Sequence[float]
) -> list[float]:
    """The bottom, and every height above it at which a face of the part (but such as are no obstacle) or of the
    workholding begins or ends, or a pass over a slope runs."""
    start = max(bottom, task.nominal + raised)
    near = [s for s in scene.steps_up if s[1] > task.nominal + COINCIDENT and _meet(s[2], bounds)]
    part = {z + raised for low, high, _, face in near if face not in task.fit.passed for z in (low, high)}
    held = {float(z) for z in np.unique(np.round(scene.held_up[:, :, 2], 6))} if len(scene.held_up) else set()
    above = sorted(z for z in {*part, *held, *steps} if start + COINCIDENT < z < scene.top)
    found = [bottom]
    for z in above:
        if z > found[-1] + COINCIDENT:
            found.append(z)
    return found


def _meet(a: Box2, b: Box2) -> bool:
    """True when two rectangles overlap or touch."""
    return all(a[k] <= b[k + 2] + COINCIDENT and b[k] <= a[k + 2] + COINCIDENT for k in (0, 1))


def bounds_of(scene: Scene, ground: Region) -> Box2:
    """The rectangle that the ground takes of the metal's."""
    ends = []
    for along in (0, 1):
        low, high = scene.room[along], scene.room[along + 2]
        lines = ground.scan(along, scene.scan_lines[along])
        ends.append((max(low, float(lines.start.min(initial=high))), min(high, float(lines.stop.max(initial=low)))))
    (x0, x1), (y0, y1) = ends
    return x0, y0, x1, y1


def _free(scene: Scene, task: Task, z: float, side: float, held_above: float | None) -> Minus:
    level = z + COINCIDENT
    shadow = _offset(scene, scene.shadow(level, task.fit.passed), side)
    if held_above is not None and len(scene.held_up):
        shadow = Join((shadow, Shadow(scene.held_up, held_above + COINCIDENT)))
    return Minus(task.ground, shadow)


def _offset(scene: Scene, standing: Shadow, side: float) -> Region:
    """What stands, grown by an allowance; less, by its own border alone, where the cutter goes past the walls."""
    if abs(side) <= COINCIDENT:
        return standing
    if side > 0:
        return Grown(standing, side)
    return Shrunk(bordered(standing, scene.room, -2 * side, scene.scan_lines[0]), -side)


def _doubt(scene: Scene, free: Known, covered: Known, fit: Region) -> tuple[float, float]:
    """How far the area of the corners that a cutter leaves may be off by their arcs' points; what scan lines miss."""
    if not isinstance(fit, Opened):
        return 0.0, 0.0
    ys = scene.scan_lines[0]
    left = subtract(free.lines[0], covered.lines[0])
    long = np.minimum(left.stop, scene.room[2]) - np.maximum(left.start, scene.room[0])  # past the metal nothing counts
    width = np.gradient(ys)
    size = float((np.maximum(long, 0.0) * width[left.line]).sum())
    arcs = sum(place.squares for place in fit.places) * ARC * float(width.max()) ** 1.5 * math.sqrt(2 * fit.radius)
    return CORNER_SHARE * size, min(arcs, size)


def _covered(scene: Scene, fit: Region, seen: Known, root: Region | None, task: Task) -> Known | None:
    """What the cutter covers, as far as it hangs together with the root, or with what lies past the metal; None when
    that is nothing. ``seen``: what scan lines see of what fits."""
    found = known(fit, scene.scan_lines) if isinstance(fit, Disc) else seen
    if root is not None:
        found = rooted(found, root, scene.room, task.beside)
    if task.outside:
        found = from_outside(found, scene.room)
    return found if len(found.lines[0]) or len(found.lines[1]) else None
