"""From a footprint to solids: height by height what the part leaves free and a cutter of that radius can cover."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from schemas.plan import Workingstep
from schemas.tolerances import COINCIDENT
from schemas.tool import Tool
from worker.kernel.planar import (
    NOWHERE,
    Bounds,
    Region,
    components,
    grow,
    intersect,
    near,
    open_by_disc,
    overlap,
    rectangle,
    subtract,
    union,
)
from worker.kernel.planar_edge import length
from worker.kernel.planar_tidy import tidied
from worker.kernel.round_corner import round_cornered
from worker.kernel.shape import Body
from worker.kernel.stack import Storey
from worker.kernel.stack_runs import stacks
from worker.kernel.sweep import prism
from worker.stage.model import Spared
from worker.stage.removal.corners import FITS_NONE, Fit
from worker.stage.removal.scene import Scene

PASSES = 8
"""Passes over a floor that slopes, where the plan states no depth of cut."""
MOST_PASSES = 60
"""Passes at most, however small the stated depth of cut."""
CLEAR = 1e-4
"""Levels keep so far (mm) above bent faces: ten times what arcs beside these may be off, a twentieth of a layer."""
MOST_PAIRS = 50_000
"""Pairs of edges of levels that stand on each other, up to which the kernel may have them as they are."""
ASIDE = 1.5e-4
"""Each of more levels keeps so far (mm) within the next one above, a seventh of what counts as a length: nearer to each
other than a ten-thousandth, arcs fitted twice are neither one nor two to the kernel, and a split runs for minutes."""
SAME_AREA = 1e-9
"""Nested regions are the same when their areas differ by less than this share."""


@dataclass(frozen=True)
class Task:
    """A footprint to clear: where (x, y), from which tip height up, with what allowance, round which faces.

    ``seed``: all that is cleared must hang together with it (None: no matter). ``fit``: faces of the part that the
    tool's own corner fits, so they are no obstacle. ``nominal`` is the bottom as modelled: below it the region of
    that height goes on down, also into what holds the stock. ``obeyed``: the depth is stated, so the workholding does
    not stop the tool above it either. ``terraces``: heights at which a floor that slopes is cut flat, on the way up to
    where it ends, none where it ends below the first; ``sloping``: nothing need be free below them. ``outside``: the
    cutter comes from beside the metal: what it finds room for behind a gap that it does not pass is another step's.
    """

    footprint: Region
    bottom: float
    nominal: float
    side: float = 0.0
    raised: float = 0.0
    seed: Region | None = None
    fit: Fit = FITS_NONE
    obeyed: bool = False
    terraces: tuple[float, ...] = ()
    sloping: bool = False
    outside: bool = False


@dataclass(frozen=True)
class Level:
    """Between two heights: what is free, and what the cutter covers of it."""

    low: float
    high: float
    free: Region
    covered: Region


def tip_height(step: Workingstep, nominal: float, lowered: float = 0.0) -> tuple[float, bool]:
    """Height of the tip, and whether it is stated: ``bottom_z``, or the nominal bottom with its allowance."""
    if step.bottom_z is not None:
        return step.bottom_z, True
    return nominal + step.allowance_bottom - lowered, False


def terraces(step: Workingstep, tool: Tool, bottom: float, top: float) -> tuple[float, ...]:
    """Heights above the bottom, up to the top, of the passes over a floor that slopes: as far apart as the plan's
    axial depth of cut, else half the diameter (common practice of roughing) and an eighth of the whole at most."""
    stated = step.technology.axial_cutting_depth
    apart = stated if stated is not None else min(tool.radius, (top - bottom) / PASSES)
    count = max(int((top - bottom) / apart - COINCIDENT), 0)
    return tuple(bottom + apart * (k + 1) for k in range(min(count, MOST_PASSES)))


def levels(scene: Scene, task: Task, tool: Tool) -> tuple[Level, ...]:
    """The levels from the tip up; empty when the cutter does not get in at the bottom, or on any terrace."""
    found: list[Level] = []
    heights = _heights(scene, task)
    before = NOWHERE
    roots = [] if task.seed is None else [task.seed]
    for low, high in zip(heights, [*heights[1:], scene.top], strict=True):
        free = _free(scene, task, low)
        if found and _same(free, before):
            found[-1] = Level(found[-1].low, high, found[-1].free, found[-1].covered)
            continue
        wide = max(tool.radius, task.fit.round_at(low, tool.corner_radius))
        room = open_by_disc(free, wide)
        within = _within(room, scene.plan) if task.outside else []
        covered = intersect(_rooted(subtract(room, within), roots, scene.plan, 2 * wide), scene.reach(tool))
        if not covered and not found and (task.sloping or task.seed is None):
            continue
        if not covered:
            break
        roots = [covered, *roots[-1:]] if task.seed is not None else []
        found.append(Level(low, high, subtract(free, within), covered))
        before = free
        if _same(free, task.footprint):  # shadows only shrink upwards: nothing stands in it any more
            found[-1] = Level(low, scene.top, found[-1].free, covered)
            break
    return tuple(_joined(found))


def _heights(scene: Scene, task: Task) -> list[float]:
    """Heights at which what stands in the footprint can change; faces that are no obstacle change nothing."""
    box = task.footprint.bounds
    start = max(task.bottom, task.nominal + task.raised)
    standing = (s for s in scene.sky.upward(task.nominal, box) if s.index not in task.fit.passed)
    part = {z + task.raised for s in standing for z in (s.low, s.high)}
    held = set() if task.obeyed or not scene.obstacles else {
        z for s in scene.obstacles.upward(start, box) for z in (s.low, s.high)
    }  # fmt: skip
    above = sorted(z for z in {*part, *held, *task.terraces} if start + COINCIDENT < z < scene.top)
    found = [task.bottom]
    for z in above:
        if z > found[-1] + COINCIDENT:
            found.append(z)
    return found


def _free(scene: Scene, task: Task, low: float) -> Region:
    z = max(low - task.raised, task.nominal)
    shadow = scene.shadow(z, _wider(task.footprint.bounds, abs(task.side)), task.fit.passed)
    shadow = _with_hairs(shadow, list(_bent(scene, task, z)))
    shadow = near(shadow, task.footprint, abs(task.side))
    held = NOWHERE if task.obeyed else scene.held(max(low, task.nominal))
    return subtract(task.footprint, [grow(shadow, task.side), held])


def _with_hairs(shadow: Region, hairs: Sequence[Region]) -> Region:
    """The shadow with hairs along its border: one by itself is where a face ends just below the level, and bars
    nothing, nor does an allowance grow round it."""
    parts = components(union([shadow, *hairs])) if hairs else ()
    return union(part for part in parts if overlap(part, shadow)) if parts else shadow


def _wider(box: Bounds, by: float) -> Bounds:
    return (box[0] - by, box[1] - by, box[2] + by, box[3] + by)


def _bent(scene: Scene, task: Task, z: float) -> Iterator[Region]:
    """What bent faces throw a shadow of a hair below a level at that height; none where a level floor lies there.

    Their own shadow ends on arcs fitted to them: the level's corner would run to and fro about the face itself, too
    near for the kernel once a later step cuts along that face, or where an earlier one has.
    """
    found = scene.sky.upward(z - 2 * COINCIDENT, task.footprint.bounds)  # also what ends at the level itself
    faces = [s for s in found if s.index not in task.fit.passed]
    level = [s for s in faces if s.flat and abs(s.high - z) <= COINCIDENT]
    if not any(overlap(scene.sky.region(s.index), task.footprint) for s in level):
        bent = [s for s in faces if s.low < z - CLEAR and s.high > z + COINCIDENT and scene.sky.is_bent(s)]
        yield from (scene.sky.part_above(s, z - CLEAR) for s in bent)


def _same(a: Region, b: Region) -> bool:
    """Whether nested regions are one, but for a border that is drawn twice: no boolean tells walls so near apart."""
    return abs(a.area - b.area) <= max(SAME_AREA * max(a.area, b.area), COINCIDENT * sum(map(length, a.edges)))


def _rooted(region: Region, roots: Sequence[Region], metal: Bounds, out: float) -> Region:
    """The parts of the region that hang together with a root: what is covered below, or, where the cutter finds room
    from here up alone, the task's seed. All of it where there are none. What hangs together past the metal alone does
    not: the cutter's way to another recess that opens there is none of this one's, and ends so far ``out``."""
    if not roots:
        return region
    found = union(part for part in components(region) if any(overlap(part, root) for root in roots))
    if not found or _lies_within(found.bounds, metal):
        return found
    pieces = components(intersect(found, rectangle(*metal)))
    own = [piece for piece in pieces if any(overlap(piece, root) for root in roots)]
    if len(own) in (0, len(pieces)):
        return found
    return intersect(grow(union(own), out), subtract(found, [piece for piece in pieces if piece not in own]))


def _within(region: Region, metal: Bounds) -> list[Region]:
    """The parts of a region that reach nowhere past the metal's rectangle."""
    return [part for part in components(region) if _lies_within(part.bounds, metal)]


def _lies_within(one: Bounds, other: Bounds) -> bool:
    return one[0] >= other[0] and one[1] >= other[1] and one[2] <= other[2] and one[3] <= other[3]


def _joined(found: list[Level]) -> list[Level]:
    """Neighbours with the same covered area made one."""
    result: list[Level] = []
    for level in found:
        if result and _same(level.covered, result[-1].covered):
            level = Level(result[-1].low, level.high, level.free, result[-1].covered)
            result.pop()
        result.append(level)
    return result


def level_bodies(scene: Scene, found: tuple[Level, ...], rounds: Sequence[float]) -> tuple[Body, ...]:
    """The solids that the tool sweeps: prisms, with floors rounded by so much each where a wall stands."""
    if max(rounds, default=0.0) <= COINCIDENT:
        return _upright(scene, found)
    bodies = []
    for level, radius, above in zip(found, rounds, [*rounds[1:], 0.0], strict=True):
        high = level.high + above  # so far into the next one that the next one's border is rounded above it
        bodies.append(round_cornered(level.covered, scene.frame, level.low, high, radius, scene.plan))
    return tuple(bodies)


def _upright(scene: Scene, found: tuple[Level, ...]) -> tuple[Body, ...]:
    """As few solids as it is plain how the levels stand on each other."""
    storeys = [Storey(level.low, level.high, level.covered) for level in found]
    if len(storeys) > 1:
        bodies = stacks(storeys, scene.frame)
        pairs = sum(len(one.region.edges) * len(two.region.edges) for one, two in pairwise(storeys))
        return stacks(_aside(storeys), scene.frame) if pairs > MOST_PAIRS and len(bodies) > 1 else bodies
    return tuple(prism(one.region, scene.frame, one.low, one.high) for one in storeys)


def _aside(storeys: Sequence[Storey]) -> list[Storey]:
    """The same, each a hair within the next one above."""
    within = enumerate(reversed(storeys))
    found = [replace(one, region=tidied(grow(one.region, -k * ASIDE)) if k else one.region) for k, one in within]
    return [one for one in reversed(found) if one.region]


def spared(scene: Scene, found: tuple[Level, ...], seed: Region | None) -> tuple[Spared, ...]:
    """What is free but not covered: the cutter is too large for it. A bore in what stands on the floor is none."""
    lost = [level for level in found if level.free.area - level.covered.area > SAME_AREA * level.free.area]
    return tuple(Spared(level.low, level.high, _of_the_cut(level, seed), level.covered, scene.plan) for level in lost)


def _of_the_cut(level: Level, seed: Region | None) -> Region:
    if seed is None:
        return level.free
    own = (level.covered, seed)
    return union(part for part in components(level.free) if any(overlap(part, one) for one in own))
