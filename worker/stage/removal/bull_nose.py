"""Whether a cutter with a round corner about a flat bottom gets down everywhere on a hollow face (setup's frame, mm).

A ball touches a face wherever its radius is no larger than the face's. A flat bottom bridges a valley however small its
corner is: so the cutter is set down on each place of the face, and it is looked what then stands in its way.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.tolerances import LAYER
from schemas.tool import Tool
from worker.kernel.graph_surface import Surface, normal_at, surface_of
from worker.kernel.mesh import triangles_of
from worker.kernel.shape import Body, pick

Floats = NDArray[np.float64]
CHORD = 0.01
"""Deflection (mm) of the face's triangles."""
LEVEL = 1e-3
"""A place whose normal leans less than this (sine) is touched by the flat, which may lie to any side of it."""
WAYS = 16
"""Sides that are tried there."""
SPARED = 1e-3
"""Share of the face that may be left: triangles at its border lean by chance."""
PER_RADIUS = 4
"""Points within one radius of the cutter."""
MOST_POINTS, MOST_PLACES = 20_000, 400
"""Points of a face, about, and places on it where the cutter is set down, at most."""
BLOCK = 2_000_000
"""Pairs of places and points that are looked at together."""


def gets_down(body: Body, index: int, frame: Frame, tool: Tool) -> bool:
    """True where the cutter touches all of a face that looks up without entering it elsewhere."""
    (face,) = pick(body, [index])
    points, corners, _ = triangles_of([face], CHORD)
    triangles = points[corners]
    area = float(np.linalg.norm(_across(triangles), axis=1).sum()) / 2
    triangles = in_pieces(triangles, max(tool.radius / PER_RADIUS, math.sqrt(area / MOST_POINTS)))
    across = _across(triangles)
    size = np.linalg.norm(across, axis=1)
    some = np.flatnonzero(size > LAYER**2)[:: max(len(triangles) // MOST_PLACES, 1)]
    surface, axes = surface_of(face)[0], np.array([frame.x, frame.y, frame.z])
    places, normals = on_surface(surface, triangles[some].mean(axis=1), across[some] / size[some, None])
    points, _ = on_surface(surface, *[np.unique(triangles.reshape(-1, 3), axis=0)] * 2)
    at = np.array(frame.location)
    entered = _entered((points - at) @ axes.T, (places - at) @ axes.T, normals @ axes.T, tool)
    return bool(size[some][entered > LAYER].sum() <= SPARED * size[some].sum())


def on_surface(surface: Surface, places: Floats, normals: Floats) -> tuple[Floats, Floats]:
    """Places (n, 3) of chords brought on to the surface itself, and its outward unit normals there; without a simple
    form they stay, with the normals that are given."""
    if surface.kind == "other":
        return places, normals
    found = np.array([normal_at(surface, (x, y, z)) for x, y, z in places.tolist()]).reshape(-1, 3)
    way = -1.0 if surface.hollow else 1.0
    return places - way * _off(surface, places, way * found)[:, None] * found, found


def _off(surface: Surface, places: Floats, away: Floats) -> Floats:
    """How far from their surface places lie, outwards from its axis or middle (unit vectors ``away``)."""
    apart, axis = places - np.array(surface.origin), np.array(surface.axis)
    along = apart @ axis
    radial = np.linalg.norm(apart - along[:, None] * axis, axis=1)
    if surface.kind == "sphere":
        return np.asarray(np.linalg.norm(apart, axis=1) - surface.radius)
    if surface.kind == "cylinder":
        return np.asarray(radial - surface.radius)
    if surface.kind == "torus":
        return np.asarray(np.hypot(radial - surface.radius, along) - surface.minor)
    return np.asarray((apart * away).sum(axis=1))


def _across(triangles: Floats) -> Floats:
    return np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])


def _entered(points: Floats, places: Floats, normals: Floats, tool: Tool) -> Floats:
    """How deep the cutter that touches each place enters the face elsewhere: its axis lies where that leans downhill,
    beside level places wherever it enters least."""
    lean = np.hypot(*normals[:, :2].T)
    found = _depth(points, places, normals, tool, normals[:, :2] / np.maximum(lean, LEVEL)[:, None])
    level = np.flatnonzero(lean < LEVEL)
    for turn in np.linspace(0.0, 2 * np.pi, WAYS, endpoint=False) if len(level) else ():
        way = np.broadcast_to((math.cos(turn), math.sin(turn)), (len(level), 2))
        found[level] = np.minimum(found[level], _depth(points, places[level], normals[level], tool, way))
    return found


def in_pieces(triangles: Floats, size: float) -> Floats:
    """Triangles (n, 3, 3) halved across their longest sides until none is longer than a size."""
    done = [triangles[:0]]
    while len(triangles):
        sides = np.linalg.norm(triangles - np.roll(triangles, -1, axis=1), axis=2)
        small = sides.max(axis=1) <= size
        done.append(triangles[small])
        triangles, first = triangles[~small], sides[~small].argmax(axis=1)
        turned = np.take_along_axis(triangles, ((first[:, None] + np.arange(3)) % 3)[..., None], axis=1)
        a, b, c = turned.transpose(1, 0, 2)
        triangles = np.concatenate((np.stack((a, (a + b) / 2, c), axis=1), np.stack(((a + b) / 2, b, c), axis=1)))
    return np.concatenate(done)


def _depth(points: Floats, places: Floats, normals: Floats, tool: Tool, ways: Floats) -> Floats:
    """How deep points of the face reach into the cutter that touches it at each place (n,)."""
    r, flat = tool.corner_radius, tool.radius - tool.corner_radius
    axis = places[:, :2] + r * normals[:, :2] + flat * ways
    tips = places[:, 2] + r * normals[:, 2] - r
    found = []
    for some in np.array_split(np.arange(len(places)), len(places) * len(points) // BLOCK + 1):
        away = np.hypot(*(points[None, :, :2] - axis[some, None]).transpose(2, 0, 1))
        bent = np.clip(away - flat, 0.0, r)
        into = points[None, :, 2] - tips[some, None] - (r - np.sqrt(r * r - bent * bent))
        found.append(np.where(away < tool.radius, into, -np.inf).max(axis=1))
    return np.concatenate(found)
