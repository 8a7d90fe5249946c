"""What a round corner leaves at the foot of faces that lean or bulge, and what bars it from them (setup's frame, mm).

On a face without a hollow a corner of radius r touches at one place; its lowest point then lies r (1 - n) below that
place, n the height of the unit normal there. Where a level floor, or the level top of what holds the metal, lies higher
than that under the cutter, it comes to rest there: between the floor and the place where it then touches the face its
own round stays. Anything else that the cutter would enter bars it from the face.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, cross
from schemas.tolerances import COINCIDENT, LAYER, LENGTH, SQUARE
from schemas.tool import Tool
from worker.kernel import boolean, measure
from worker.kernel.bent_mesh import bent_triangles
from worker.kernel.graph_surface import Surface, surface_of
from worker.kernel.mesh import triangles_of
from worker.kernel.planar import of_loops
from worker.kernel.planar_edge import angle_of, arcs, line
from worker.kernel.primitives import ProfilePoint, revolve_profile
from worker.kernel.shadow import Shown, Skyline, concave_radius, face_facts
from worker.kernel.shape import Body, compound, is_empty, solids
from worker.kernel.sweep import prism
from worker.stage.model import no_rides
from worker.stage.removal.bull_nose import in_pieces, on_surface
from worker.stage.removal.scene import CLEARANCE, Scene

Floats = NDArray[np.float64]
CHORD = 0.01
"""Deflection (mm) of triangles whose corners are looked at."""
PER_RADIUS = 3
"""Places on a face within one radius of the corner."""
MOST = 4000
"""Places on a face, about."""
ABOVE = 5e-4
"""The round that stays keeps so far (mm) above the face, and above the floor, along which it would end in nothing."""
ENTERED = 2 * LAYER
"""What reaches no deeper (mm) into the cutter only touches it: corners of triangles lie that near to their faces."""
MOST_TRIED = 600
"""Of these such as are held against what is not level, at most."""
SQUARES = 250
"""Squares of the plan over a face, about, of each of which a few rides are kept."""
BLOCK = 2_000_000
"""Pairs of places and points that are looked at together."""


@dataclass(frozen=True, eq=False)
class _Set:
    """The cutter set down on a face: where it touches (n, 3), the unit normals there, its axis (n, 2) and its tips."""

    places: Floats
    normals: Floats
    axis: Floats
    tips: Floats

    def where(self, some: NDArray[np.bool_]) -> _Set:
        return _Set(self.places[some], self.normals[some], self.axis[some], self.tips[some])


@dataclass(frozen=True)
class _Section:
    """A face cut across: w outwards along (x, y) from a middle, or all round it; z upwards. A circle (``radius``) about
    ``at``, else the line at ``at`` square to ``normal``."""

    middle: tuple[float, float]
    way: tuple[float, float] | None
    at: tuple[float, float]
    radius: float = 0.0
    normal: tuple[float, float] = (0.0, 0.0)

    def rest(self, floor: float, r: float) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """Middle of a corner of radius r that rests on a floor and touches the face, and where it touches."""
        (w, z), up = self.at, floor + r
        if not self.radius:
            nw, nz = self.normal
            centre = w + (r - nz * (up - z)) / nw
            return (centre, up), (centre - r * nw, up - r * nz)
        far = self.radius + r
        if abs(up - z) >= far:
            return None
        out = math.sqrt(far * far - (up - z) ** 2)
        share = self.radius / far
        return (w + out, up), (w + out * share, z + (up - z) * share)


def at_feet(scene: Scene, tool: Tool, indices: Sequence[int]) -> tuple[list[int], list[Body], list[Floats]]:
    """Those of the faces that a cutter with a round corner follows but for their feet, what it leaves there, and the
    rides of a ``Cut`` over each: x, y of its axis and its tip (n, 3)."""
    free: list[int] = []
    kept: list[Body] = []
    rides: list[Floats] = []
    for index in indices:
        found = _kept(scene, tool, index)
        if found is not None:
            free.append(index)
            kept += found[0]
            rides.append(_thinned(np.concatenate(found[1]), tool) if found[1] else no_rides())
    return free, kept, rides


def _kept(scene: Scene, tool: Tool, index: int) -> tuple[list[Body], list[Floats]] | None:
    """What stays at one face's feet, and the rides over it; None where something else bars the cutter, or the face's
    section is not known."""
    shown = scene.sky.shown[index]
    surface = surface_of(face_facts(scene.sky.body)[index].face)[0]
    if shown.flat or concave_radius(scene.sky.body, index) is not None:
        return [], []
    if surface.kind == "other":
        free = _set_down_freely(scene, tool, index)
        return [], [_rides(free.axis, free.tips)]
    found = _set_down(scene, tool, index, surface)
    resting = np.zeros(len(found.tips), bool)
    feet: list[tuple[float, _Set]] = []
    for sky in (s for s in (scene.sky, scene.obstacles) if s):
        for floor in _level(sky, found, tool):
            on = _rests(sky, floor, found, tool)
            if (found.places[on, 2] < floor.high - LENGTH).any():
                return None  # no floor at its foot: it stands up beside the face
            resting |= on
            feet += [(floor.high, found.where(on))] if on.any() else []
    if _is_barred(scene, tool, index, found.where(~resting)):
        return None
    free = found.where(~resting)
    section = _section(surface, scene.frame)
    if not feet:
        return [], [_rides(free.axis, free.tips)]
    return None if section is None else _rounds(scene, tool, section, found, free, feet)


def _rides(axis: Floats, tips: Floats) -> Floats:
    return np.column_stack((axis, tips))


def spacing(rides: Floats, tool: Tool) -> float:
    """Side (mm) of the squares of which a few rides stand for all; of several faces no smaller than of any of them."""
    return max(tool.corner_radius / PER_RADIUS, math.sqrt(float(np.prod(np.ptp(rides[:, :2], axis=0))) / SQUARES))


def _thinned(rides: Floats, tool: Tool) -> Floats:
    """Of each square of the plan the ride with the lowest tip and those farthest out, of which the lowest: they end
    where all of them end."""
    if not len(rides):
        return rides
    rides = np.unique(np.round(rides, 9), axis=0)
    size = spacing(rides, tool)
    column, row = np.floor((rides[:, :2] - rides[:, :2].min(axis=0)) / size + COINCIDENT).astype(np.int64).T
    x, y, tip = np.round(rides, 6).T
    kept = []
    for first, then in ((tip, x), (x, tip), (-x, tip), (y, tip), (-y, tip)):
        order = np.lexsort((then, first, row, column))
        cells = np.column_stack((column, row))[order]
        kept.append(order[np.concatenate(([True], (cells[1:] != cells[:-1]).any(axis=1)))])
    return np.asarray(rides[np.unique(np.concatenate(kept))])


def _set_down(scene: Scene, tool: Tool, index: int, surface: Surface) -> _Set:
    points, corners, _ = triangles_of(scene.sky.upper(index), CHORD)
    pieces = in_pieces(points[corners], _fineness(scene, tool, index))
    places = np.unique(np.round(pieces.reshape(-1, 3), 9), axis=0)
    return _touching(scene.frame, tool, *on_surface(surface, places, places))


def _set_down_freely(scene: Scene, tool: Tool, index: int) -> _Set:
    """The same of a free form: between corners of its triangles their normals are interpolated."""
    found = [bent_triangles(face, CHORD) for face in scene.sky.upper(index)]
    pieces = in_pieces(np.concatenate([np.zeros((0, 3, 6)), *found]), _fineness(scene, tool, index))
    rows = np.unique(np.round(pieces.reshape(-1, 6), 9), axis=0)
    size = np.linalg.norm(rows[:, 3:], axis=1)
    rows, size = rows[size > 0.5], size[size > 0.5]
    return _touching(scene.frame, tool, rows[:, :3], rows[:, 3:] / size[:, None])


def _fineness(scene: Scene, tool: Tool, index: int) -> float:
    """How far places on a face lie apart at most (mm)."""
    area = measure.area(Body(face_facts(scene.sky.body)[index].face))
    return max(tool.corner_radius / PER_RADIUS, math.sqrt(area / MOST))


def _touching(frame: Frame, tool: Tool, places: Floats, normals: Floats) -> _Set:
    """The cutter where it touches places (n, 3) of a face with these normals, both of the part's frame."""
    r, axes = tool.corner_radius, np.array([frame.x, frame.y, frame.z])
    places, normals = (places - np.array(frame.location)) @ axes.T, normals @ axes.T
    lean = np.hypot(*normals[:, :2].T)
    some = (normals[:, 2] > -SQUARE) & (lean > SQUARE)
    places, normals, lean = places[some], normals[some], lean[some]
    out = normals[:, :2] * (r + (tool.radius - r) / lean)[:, None]
    return _Set(places, normals, places[:, :2] + out, places[:, 2] + r * (normals[:, 2] - 1))


def _level(sky: Skyline, found: _Set, tool: Tool) -> Iterator[Shown]:
    """Level faces that the cutter may come down upon."""
    if len(found.tips):
        (x0, y0), (x1, y1) = found.axis.min(axis=0), found.axis.max(axis=0)
        box = (x0 - tool.radius, y0 - tool.radius, x1 + tool.radius, y1 + tool.radius)
        yield from (s for s in sky.upward(float(found.tips.min()), box) if s.flat)


def _rests(sky: Skyline, floor: Shown, found: _Set, tool: Tool) -> NDArray[np.bool_]:
    """Where the cutter, set down on the face, would enter a level face."""
    deep = floor.high - found.tips - ENTERED
    r = tool.corner_radius
    wide = tool.radius - r + np.sqrt(np.maximum(r * r - np.clip(r - deep, 0.0, r) ** 2, 0.0))
    asked = np.flatnonzero(deep > 0.0)
    on = np.zeros(len(deep), bool)
    if len(asked):
        on[asked] = sky.region(floor.index).signed_distance(found.axis[asked]) > -wide[asked]
    return on


def _is_barred(scene: Scene, tool: Tool, index: int, found: _Set) -> bool:
    """Whether the cutter enters anything that is not level from a place where no floor holds it up."""
    if not len(found.tips):
        return False
    some = np.arange(0, len(found.tips), len(found.tips) // MOST_TRIED + 1)
    found = found.where(np.isin(np.arange(len(found.tips)), some))
    (x0, y0), (x1, y1) = found.axis.min(axis=0) - tool.radius, found.axis.max(axis=0) + tool.radius
    for sky in (s for s in (scene.sky, scene.obstacles) if s):
        near = sky.upward(float(found.tips.min()), (float(x0), float(y0), float(x1), float(y1)))
        others = [s.index for s in near if not s.flat and not (sky is scene.sky and s.index == index)]
        if any(_enters(sky, other, found, tool) for other in others):
            return True
    return False


def _enters(sky: Skyline, other: int, found: _Set, tool: Tool) -> bool:
    points, corners, _ = triangles_of([face_facts(sky.body)[other].face], CHORD)
    axes = np.array([sky.frame.x, sky.frame.y, sky.frame.z])
    own = ((points - np.array(sky.frame.location)) @ axes.T)[corners]
    low, high = found.axis.min(axis=0) - tool.radius, found.axis.max(axis=0) + tool.radius
    own = own[((own[:, :, :2].max(axis=1) >= low) & (own[:, :, :2].min(axis=1) <= high)).all(axis=1)]
    if not len(own):
        return False
    points = _on_face(sky, other, np.unique(in_pieces(own, tool.corner_radius / PER_RADIUS).reshape(-1, 3), axis=0))
    r, flat = tool.corner_radius, tool.radius - tool.corner_radius
    for some in np.array_split(np.arange(len(found.tips)), len(found.tips) * len(points) // BLOCK + 1):
        away = np.hypot(*(points[None, :, :2] - found.axis[some, None]).transpose(2, 0, 1))
        bent = np.clip(away - flat, 0.0, r)
        into = points[None, :, 2] - found.tips[some, None] - (r - np.sqrt(r * r - bent * bent))
        if bool(((into > ENTERED) & (away < tool.radius - ENTERED)).any()):
            return True
    return False


def _on_face(sky: Skyline, index: int, points: Floats) -> Floats:
    """Points of chords (n, 3; the sky's frame) brought on to the face itself, where its form is simple."""
    axes, at = np.array([sky.frame.x, sky.frame.y, sky.frame.z]), np.array(sky.frame.location)
    places = points @ axes + at
    found, _ = on_surface(surface_of(face_facts(sky.body)[index].face)[0], places, places)
    return np.asarray((found - at) @ axes.T)


def _rounds(
    scene: Scene, tool: Tool, section: _Section, found: _Set, free: _Set, feet: Sequence[tuple[float, _Set]]
) -> tuple[list[Body], list[Floats]] | None:
    """The bodies under the round that the corner leaves over each floor, side by side, and the rides; None where none
    can be told."""
    bodies, rides = [], [_rides(free.axis, free.tips)]
    for side in (1.0, -1.0) if section.way and section.radius else (1.0,):
        there = [(floor, _of_side(section, side, own)) for floor, own in feet]
        there = [(floor, own) for floor, own in there if len(own.tips)]
        if there:
            floor = max(floor for floor, _ in there)
            body = _under_round(scene, tool, section, side, found, floor, [own for _, own in there])
            if body is None:
                return None
            bodies.append(body)
            rides += [_resting(section, side, tool, own_floor, own.axis) for own_floor, own in there]
    return bodies, rides


def _resting(section: _Section, side: float, tool: Tool, floor: float, axis: Floats) -> Floats:
    """The rides of a corner that rests on a floor beside the face, where it would come lower on the face alone."""
    rest = section.rest(floor, tool.corner_radius)
    if rest is None:
        return no_rides()
    off, out = axis - section.middle, rest[0][0] + tool.radius - tool.corner_radius
    if section.way is None:
        axis = section.middle + off * (out / np.hypot(*off.T))[:, None]
    else:
        way = np.array(section.way)
        axis = axis + (side * out - off @ way)[:, None] * way
    return _rides(axis, np.full(len(axis), floor))


def _of_side(section: _Section, side: float, own: _Set) -> _Set:
    return own if section.way is None else own.where(own.normals[:, :2] @ np.array(section.way) * side > 0)


def _section(surface: Surface, frame: Frame) -> _Section | None:
    """How the face is cut by planes square to its level lines; None where those are no lines or circles."""
    x, y, z = frame.to_local(surface.origin)
    u, v, up = frame.direction_to_local(surface.axis)
    upright, lying = math.hypot(u, v) < SQUARE, abs(up) < SQUARE
    if surface.kind == "sphere":
        return _Section((x, y), None, (0.0, z), surface.radius)
    if surface.kind == "torus" and upright:
        return _Section((x, y), None, (surface.radius, z), surface.minor)
    if surface.kind == "cone" and upright:
        normal = (math.cos(surface.half_angle), -math.copysign(math.sin(surface.half_angle), up))
        return _Section((x, y), None, (0.0, z), normal=normal)
    size = math.hypot(u, v)
    if surface.kind == "cylinder" and lying:
        return _Section((x, y), (-v / size, u / size), (0.0, z), surface.radius)
    if surface.kind == "plane" and not upright:
        return _Section((x, y), (u / size, v / size), (0.0, z), normal=(size, up))
    return None


def _under_round(
    scene: Scene, tool: Tool, section: _Section, side: float, found: _Set, floor: float, own: Sequence[_Set]
) -> Body | None:
    """What stays below the round of a corner that rests on a floor and touches the face."""
    rest = section.rest(floor, tool.corner_radius)
    if rest is None:
        return None
    (w, z), (touch, at) = rest
    low = min(float(found.places[:, 2].min()), floor) - CLEARANCE
    if section.way is None:
        place = scene.frame.model_copy(update={"location": scene.frame.to_world((*section.middle, 0.0))})
        start, middle = angle_of((w, z), (w, floor)), angle_of((w, z), (touch, at))
        half = (start + (middle if middle < 0 else middle - math.tau)) / 2
        r = tool.corner_radius
        outline: list[ProfilePoint] = [(touch, low), (w, low), (w, floor + ABOVE)]
        through = (w + r * math.cos(half), z + r * math.sin(half) + ABOVE)
        return revolve_profile([*outline, (touch, at + ABOVE, *through)], place)
    return _straight(scene, tool, section, side, (rest[0], rest[1], low), own)


def _straight(
    scene: Scene,
    tool: Tool,
    section: _Section,
    side: float,
    round_: tuple[tuple[float, float], tuple[float, float], float],
    own: Sequence[_Set],
) -> Body:
    (w, z), (touch, at), low = round_
    assert section.way is not None
    out = (section.way[0] * side, section.way[1] * side, 0.0)
    x = scene.frame.direction_to_world(out)
    place = Frame(location=scene.frame.to_world((*section.middle, 0.0)), axis=cross(x, scene.frame.z), ref_direction=x)
    along = np.concatenate([one.places[:, :2] for one in own]) - section.middle
    ts = along @ np.array([out[1], -out[0]])
    start = angle_of((w, z), (w, z - tool.corner_radius))
    end = angle_of((w, z), (touch, at))
    sweep = (end if end < 0 else end - math.tau) - start
    bend = arcs((w, z + ABOVE), tool.corner_radius, start, sweep)
    first, last = bend[0].a, bend[-1].b
    straight = [line(last, (last[0], low)), line((last[0], low), (w, low)), line((w, low), first)]
    past = tool.corner_radius / PER_RADIUS + CLEARANCE
    return prism(of_loops([[*bend, *straight]]), place, float(ts.min()) - past, float(ts.max()) + past)


def less(bodies: Sequence[Body], kept: Sequence[Body]) -> tuple[Body, ...]:
    """The bodies without what stays."""
    if not kept:
        return tuple(bodies)
    found = (boolean.cut(body, list(kept), merge=False) for body in bodies if not is_empty(body))
    return tuple(compound(solids(body)) for body in found)
