"""The outside of the part: faces to be faced off, and the contour round an axis."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, Vec3, add, any_frame, cross, dot, norm, scale, unit
from schemas.tolerances import LIMIT, MESH, OUTER, SQUARE
from worker.kernel.graph_surface import Surface
from worker.recognise.access import Sight, opposite, tidy
from worker.recognise.extent import extent, level_direction
from worker.recognise.holes import BORE, FULL
from worker.recognise.ids import Draft, upright
from worker.recognise.patches import PartShape, Patch
from worker.recognise.projection import across
from worker.recognise.recess_size import foot_of, top_of
from worker.recognise.recesses import Recess, is_wall
from worker.recognise.turns import coaxial, turn_of

TRIES, FEW, MANY = 40, 8, 150
"""Heights at which the contour round an axis is looked for, thickest layer first."""
AT_ONCE = 16
"""So many sides of a contour are compared with all corners in one go."""
NEARLY = 1 - 1e-9
"""What of a circle lies inside it beyond any doubt of rounding."""
SURE = 1e-9
"""A box that keeps within a limit by less (mm) is asked by its corners."""
CONTOUR = 0.05
"""A contour reaches as far as the part, but for so much (mm)."""
Array = NDArray[np.float64]


def outer_planes(shape: PartShape) -> frozenset[int]:
    """The plane patches with the whole part behind them."""
    few = shape.few
    found = []
    for patch in shape.patches:
        if patch.surface.kind == "plane" and len(patch.corners) and not patch.concave:
            axis = np.array(patch.surface.axis)
            limit = float(patch.vertices[0] @ axis) + OUTER
            if float((few @ axis).max()) <= limit and shape.support(patch.surface.axis) <= limit:
                found.append(patch.index)
    return frozenset(found)


def face_drafts(shape: PartShape, sight: Sight, planes: Iterable[int]) -> list[Draft]:
    """One planar_face per plane and side."""
    groups: list[list[Patch]] = []
    patches = [shape.patches[index] for index in planes]
    known = np.zeros((6, len(patches)))
    for patch in patches:
        own = _in_plane(known[:, : len(groups)], patch.surface)
        if own.any():
            groups[int(own.argmax())].append(patch)
        else:
            known[:, len(groups)] = *patch.surface.axis, *patch.surface.origin
            groups.append([patch])
    return [_face(shape, sight, group) for group in groups]


def _in_plane(known: Array, surface: Surface) -> NDArray[np.bool_]:
    """In which planes, given by axes and points (6, n), a plane lies."""
    a, b, c, x, y, z = known
    (u, v, w), (p, q, r) = surface.axis, surface.origin
    along = a * u + b * v + c * w > 1 - 1e-7
    return np.asarray(along & (np.abs((p - x) * a + (q - y) * b + (r - z) * c) < 2e-3))


def _face(shape: PartShape, sight: Sight, group: list[Patch]) -> Draft:
    patches = tuple(p.index for p in group)
    axis = sight.known(group[0].surface.axis)
    beside = [shape.patches[o].surface for p in group for o in p.neighbours]
    normals = [s.axis for s in beside if s.kind == "plane"]
    ways = sight.distinct([*normals, *(opposite(n) for n in normals), *sight.sides])
    along = [d for d in ways if abs(dot(d, axis)) < SQUARE]
    access = tuple(d for d in (axis, *along) if sight.sees(patches, d))
    if _is_askew(shape, sight, group, axis):
        leant = (d for d in sight.sides if SQUARE < dot(d, axis) < 1 - SQUARE)  # a round corner follows it from there
        access += tuple(d for d in leant if d not in access and sight.sees(patches, d))
    x = level_direction(shape, patches, axis)
    y = cross(axis, x)
    spans = [extent(shape, patches, d) for d in (x, y)]
    height = dot(group[0].surface.origin, axis)
    place = add(add(scale(x, sum(spans[0]) / 2), y, sum(spans[1]) / 2), axis, height)
    sides = [s[1] - s[0] for s in spans]
    sizes: dict[str, object] = {"length": max(sides), "width": min(sides)}
    placement = Frame(location=place, axis=axis, ref_direction=x)
    return Draft("planar_face", patches, placement, access, sizes, key=(height,))


def _is_askew(shape: PartShape, sight: Sight, group: list[Patch], axis: Vec3) -> bool:
    """True for a face that is square to no more than half of the planes beside it, whatever breaks its edges."""
    others = {o for p in group for o in p.neighbours} - sight.chamfers
    across = [dot(s.axis, axis) for s in (shape.patches[o].surface for o in others) if s.kind == "plane"]
    return 2 * sum(abs(d) < SQUARE for d in across) <= len(across) > 0


def profile_axes(shape: PartShape, outer: Iterable[int]) -> list[Vec3]:
    """Axes worth a contour: square to two outer planes that face away from each other, and those of round bars."""
    normals = [tidy(shape.patches[i].surface.axis) for i in outer]
    found: list[Vec3] = []
    for axis in normals:
        if any(dot(axis, other) < -1 + SQUARE**2 for other in normals):
            _add_axis(found, axis)
    for patch in shape.patches:
        surface = patch.surface
        new = surface.kind == "cylinder" and not surface.hollow and not _is_known(found, tidy(surface.axis))
        if new and turn_of([patch], surface.origin, surface.axis) > FULL:
            _add_axis(found, tidy(surface.axis))
    return found


def is_contour(shape: PartShape, group: Iterable[int], axes: Iterable[Vec3]) -> bool:
    """True for walls along one of the axes of which a round one is outermost: contour with hollow blends, no recess.

    So are cylinders and cones all round one axis that stand out from it, as a turned part has them.
    """
    patches = [shape.patches[p] for p in group]
    if _is_turned(patches):
        return True
    upright = any(all(is_wall(p, axis) for p in patches) for axis in axes)
    return upright and any(_belongs_to_an_end(shape, p) for p in patches)


def _belongs_to_an_end(shape: PartShape, patch: Patch) -> bool:
    """Whether a round wall is outermost, or one that arms part from it, as a hub's between those of a bell crank."""
    same = shape.of_carrier[shape.carriers[patch.index]] if patch.surface.kind == "cylinder" else ()
    return any(is_outermost(shape, shape.patches[p]) for p in same)


def broad_faces(shape: PartShape, sight: Sight, group: Iterable[int], axes: Iterable[Vec3]) -> tuple[int, ...]:
    """The plane walls of a contour that are wider along its axis than across, as beside a rib: they are milled from
    their front too, which has to see them."""
    patches = [shape.patches[p] for p in group]
    axis = next((a for a in axes if all(is_wall(p, a) for p in patches)), None)
    flat = [p for p in patches if p.surface.kind == "plane"]
    return () if axis is None else tuple(p.index for p in flat if _is_broad(shape, sight, p, axis))


def _is_broad(shape: PartShape, sight: Sight, patch: Patch, axis: Vec3) -> bool:
    normal = patch.surface.axis
    along, across = (extent(shape, (patch.index,), way) for way in (axis, cross(axis, normal)))
    return along[1] - along[0] > across[1] - across[0] + LIMIT and sight.sees((patch.index,), sight.known(normal))


def _is_turned(patches: Sequence[Patch]) -> bool:
    """True for cylinders and cones about one axis that metal fills, each all round it but for what cuts them."""
    first = patches[0].surface
    if any(p.surface.kind not in ("cylinder", "cone") or p.surface.hollow for p in patches):
        return False
    return all(coaxial(p, first.origin, first.axis) for p in patches) and all(
        turn_of([p for p in patches if p.surface.kind == kind], first.origin, first.axis) > BORE
        for kind in {p.surface.kind for p in patches}
    )


def is_outermost(shape: PartShape, patch: Patch) -> bool:
    """True for a plane or round outer wall that the part does not pass in one of the directions it looks in."""
    surface = patch.surface
    if surface.kind not in ("plane", "cylinder") or surface.hollow or not len(patch.corners):
        return False
    normals = np.round(shape.normals[shape.slices[patch.index]], 9)
    normals = normals[:1] if surface.kind == "plane" else normals
    limits = np.nextafter(normals @ np.array(surface.origin) + surface.radius + OUTER, -np.inf)
    free = (shape.few @ normals.T).max(axis=0) <= limits
    pairs = dict.fromkeys(zip(map(tuple, normals[free].tolist()), limits[free].tolist(), strict=True))
    return any(shape.support(normal) <= limit for normal, limit in pairs)


def is_round_end(shape: PartShape, patch: Patch) -> bool:
    """True for a round wall of the part's own contour, as a hub's that a web runs into: no window below the web."""
    return patch.surface.kind == "cylinder" and is_outermost(shape, patch)


def _add_axis(found: list[Vec3], axis: Vec3) -> None:
    if not _is_known(found, axis):
        found.append(max(axis, opposite(axis), key=upright))


def _is_known(found: list[Vec3], axis: Vec3) -> bool:
    return any(norm(cross(axis, f)) < SQUARE for f in found)


def main_axis(shape: PartShape, outer: Iterable[int], bores: Iterable[Vec3]) -> Vec3 | None:
    """The axis the part is chiefly made along: most outer area square to it, then most bores along it."""
    outer = tuple(outer)
    axes = profile_axes(shape, outer)
    drilled = list(bores)

    def weight(axis: Vec3) -> tuple[float, int, tuple[float, float, float]]:
        area = sum(shape.patches[i].area for i in outer if abs(dot(shape.patches[i].surface.axis, axis)) > 1 - 1e-6)
        along = sum(1 for b in drilled if norm(cross(b, axis)) < SQUARE)
        return (round(area, 2), along, upright(axis))

    return max(axes, key=weight) if axes else None


def ring_of(shape: PartShape, axis: Vec3, outer: Iterable[int]) -> tuple[int, ...]:
    """The patches of the outermost contour parallel to an axis; empty when no height has one that is all walls."""
    x = _across(shape, axis, outer)
    flat = shape.along(x), shape.along(cross(axis, x))
    section = _Sections(flat, shape.along(axis), [is_wall(p, axis) for p in shape.patches])
    found: set[int] = set()
    for low, high in _layers(shape, axis):
        found.update(section.contour(shape.owner, low + 0.47 * (high - low)))
    return tuple(sorted(found))


def _across(shape: PartShape, axis: Vec3, outer: Iterable[int]) -> Vec3:
    """The direction square to an axis that the largest outer plane looks in."""
    sides = [shape.patches[p] for p in outer if abs(dot(shape.patches[p].surface.axis, axis)) < SQUARE]
    if not sides:
        return any_frame((0.0, 0.0, 0.0), axis).x
    normal = max(sides, key=lambda p: (round(p.area, 1), p.surface.axis)).surface.axis
    return unit(add(normal, axis, -dot(normal, axis)))


def _layers(shape: PartShape, axis: Vec3) -> list[tuple[float, float]]:
    """The thickest layers between the heights at which patches begin or end."""
    levels = np.sort(shape.spans(axis), axis=None).tolist()
    layers = [(a, b) for a, b in pairwise(levels) if b - a > 0.01]
    return sorted(layers, key=lambda t: (t[0] - t[1], t[0]))[: TRIES if len(shape.patches) < MANY else FEW]


def outline_of(shape: PartShape, sight: Sight, axis: Vec3, taken: Container[int]) -> tuple[int, ...]:
    """The walls on the part's outline seen along an axis, where no one height has the whole contour.

    A wall that is seen from both ends of the axis has nothing above and nothing below it. Empty when something of
    the part stands out of these walls.
    """
    free = [p for p in shape.patches if p.index not in taken and is_wall(p, axis) and not p.surface.hollow]
    walls = tuple(p.index for p in free if sight.sees((p.index,), axis) and sight.sees((p.index,), opposite(axis)))
    return walls if walls and _spans_all(shape, axis, walls) else ()


def _spans_all(shape: PartShape, axis: Vec3, walls: tuple[int, ...]) -> bool:
    """True when, seen along the axis, nothing of the part stands out of the hull of the walls."""
    frame = any_frame((0.0, 0.0, 0.0), axis)
    basis = np.array([frame.x, frame.y]).T
    hull = _hull(np.concatenate([shape.patches[w].vertices for w in walls]) @ basis)
    sides = np.roll(hull, -1, axis=0) - hull
    normals = np.stack([sides[:, 1], -sides[:, 0]], axis=1) / np.linalg.norm(sides, axis=1)[:, None]
    limits = np.einsum("ij,ij->i", hull, normals) + OUTER + MESH
    middle = hull.mean(axis=0)
    within = max(float((limits - normals @ middle).min()), 0.0)  # no side of the hull comes into such a circle
    far = _beyond(shape, basis, middle, within)
    starts = range(0, len(hull), AT_ONCE)
    pieces = ((normals[k : k + AT_ONCE] @ basis.T, limits[k : k + AT_ONCE]) for k in starts)
    return all(_keeps_within(shape, far, some, most) for some, most in pieces)


def _beyond(shape: PartShape, basis: Array, middle: Array, radius: float) -> NDArray[np.intp]:
    """The patches whose boxes, seen in the plane, reach out of a circle."""
    low, high = shape.boxes
    off = np.linalg.norm((low + high) / 2 @ basis - middle, axis=1) + np.linalg.norm(high - low, axis=1) / 2
    return np.flatnonzero(~(off < radius * NEARLY))


def _keeps_within(shape: PartShape, patches: NDArray[np.intp], ways: Array, limits: Array) -> bool:
    """True when no patch reaches past a limit along its way (n, 3): only where a box does its corners are looked at."""
    low, high = (box[patches] for box in shape.boxes)
    reach = (low + high) @ ways.T / 2 + (high - low) @ np.abs(ways).T / 2
    near = patches[~(reach < limits - SURE).all(axis=1)].tolist()
    return all(bool((shape.patches[p].vertices @ ways.T <= limits).all()) for p in near)


def _hull(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of the convex hull of places (n, 2), counter-clockwise; a segment gives its two ends."""
    ordered = np.unique(np.round(points, 6), axis=0).tolist()
    chains: list[list[list[float]]] = []
    for run in (ordered, ordered[::-1]):
        chain: list[list[float]] = []
        for p in run:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], p) <= 0:
                chain.pop()
            chain.append(p)
        chains.append(chain[:-1])
    return np.array(chains[0] + chains[1])


def _turn(a: list[float], b: list[float], c: list[float]) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


class _Sections:
    """Sections of a part square to an axis: x, y and heights of triangles' corners (n, 3), which patches are walls."""

    def __init__(self, flat: tuple[Array, Array], heights: Array, walls: Sequence[bool]) -> None:
        self.flat, self.heights, self.walls = flat, heights, np.array(walls)
        self.size = np.array([c.max() - c.min() for c in flat])
        self.low, self.high = across(np.minimum, heights), across(np.maximum, heights)

    def contour(self, owner: NDArray[np.int64], at: float) -> list[int]:
        """Patches of the loop at a height that reaches furthest out, if it is as large as the part and all walls."""
        cut = np.flatnonzero((self.low < at) & (self.high > at))
        if not len(cut):
            return []
        points = _crossings(np.stack([c[cut] for c in self.flat], axis=2), self.heights[cut], at)
        seed = int(points[:, :, 0].max(axis=1).argmax())
        if not self.walls[owner[cut[seed]]] or not self._is_whole(points):
            return []
        loop = _loop_from(seed, points)
        owners = np.unique(owner[cut[loop]])
        return owners.tolist() if self.walls[owners].all() and self._is_whole(points[loop]) else []

    def _is_whole(self, points: Array) -> bool:
        return bool(np.abs(np.ptp(points.reshape(-1, 2), axis=0) - self.size).max() < CONTOUR)


def _crossings(corners: NDArray[np.float64], heights: NDArray[np.float64], at: float) -> NDArray[np.float64]:
    """Where a level cuts triangles that straddle it: (n, 2, 2), the two ends of each segment."""
    above = heights >= at
    single = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    rows = np.arange(len(corners))
    found = []
    for step in (1, 2):
        other = (single + step) % 3
        rise = heights[rows, other] - heights[rows, single]
        share = ((at - heights[rows, single]) / rise)[:, None]
        found.append(corners[rows, single] + share * (corners[rows, other] - corners[rows, single]))
    return np.stack(found, axis=1)


def _loop_from(seed: int, points: Array) -> NDArray[np.intp]:
    """The segments (n, 2, 2) that hang together with one, end to end (0.1 um)."""
    cells = np.round(points * 1e4).astype(np.int64)
    cells -= cells.min(axis=(0, 1)) - 1
    width = int(cells[..., 1].max()) + 2
    names, ends = np.unique(cells[..., 0] * width + cells[..., 1], return_inverse=True)
    ends = ends.reshape(-1, 2)
    group = _grouped(len(names), np.concatenate([ends, *_beside(names, width)]))
    return np.flatnonzero(group[ends[:, 0]] == group[ends[seed, 0]])


def _beside(names: NDArray[np.int64], width: int) -> list[NDArray[np.intp]]:
    """Pairs of cells that touch; a cell's name, of which there is a sorted list, is its column x width + its row."""
    here = np.flatnonzero(np.diff(names) == 1)
    found = [np.stack([here, here + 1], axis=1)]
    first = np.searchsorted(names, names + width - 1)
    for step in range(3):
        other = np.minimum(first + step, len(names) - 1)
        touch = np.flatnonzero(np.abs(names[other] - names - width) <= 1)
        found.append(np.stack([touch, other[touch]], axis=1))
    return found


def _grouped(count: int, links: NDArray[np.intp]) -> NDArray[np.intp]:
    """The least number that each of ``count`` things is linked with (n, 2), over others as well."""
    least = np.arange(count)
    while True:
        a, b = least[links[:, 0]], least[links[:, 1]]
        apart = a != b
        if not apart.any():
            return least
        np.minimum.at(least, np.maximum(a[apart], b[apart]), np.minimum(a[apart], b[apart]))
        while (least[least] != least).any():
            least = least[least]


def profile_draft(
    shape: PartShape, sight: Sight, axis: Vec3, walls: tuple[int, ...], shared: Container[int] = ()
) -> Draft:
    """The contour round an axis as a feature, from end to end of the part where its edges are broken; of walls that
    recesses share with it these see to what is theirs."""
    sides = Recess(walls, axis, (), ())
    low, high = foot_of(shape, sides), top_of(shape, sides)
    x = level_direction(shape, walls, axis)
    y = cross(axis, x)
    spans = [extent(shape, walls, d) for d in (x, y)]
    place = add(add(scale(x, sum(spans[0]) / 2), y, sum(spans[1]) / 2), axis, high)
    across = [s[1] - s[0] for s in spans]
    sizes: dict[str, object] = {"depth": high - low, "length": max(across), "width": min(across)}
    round_ = [shape.patches[w].surface for w in walls]
    if all(s.kind == "cylinder" for s in round_) and len(walls) == 1:
        sizes["diameter"] = 2 * round_[0].radius
    own = tuple(w for w in walls if w not in shared) or walls
    access = tuple(d for d in (sight.known(axis), sight.known(opposite(axis))) if sight.sees(own, d))
    placement = Frame(location=place, axis=axis, ref_direction=x)
    return Draft("profile_feature", walls, placement, access, sizes, key=(0.0,))
