"""Faces told by the larger ones that they run into: strips too flat to be round, crumbs too small to tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from schemas.base import Vec3
from schemas.tolerances import CANONICAL, LEDGE, SMOOTH
from worker.kernel.graph import EdgeFact, FaceFact, FaceGraph
from worker.kernel.graph_surface import Surface, off_surface
from worker.recognise.carriers import same_carrier

CRUMB = 0.25
"""A face smaller than this (mm2) may fit several simple surfaces: its sizes are those of the noise."""
CRUMB_SHARE = 0.05
"""... and it is a piece of what it runs into only where that is so much larger (ratio of areas)."""


def levelled(graph: FaceGraph) -> FaceGraph:
    """The graph with round faces as planes that hardly leave the plane they run into: how a model was drawn.

    A crumb of a face that was divided is a piece of what it lies on, however else it may be read.
    """
    flat: dict[int, Surface] = {}
    doubtful: dict[int, list[int]] = {}
    for edge in graph.edges:
        if edge.convexity == "smooth":
            for a, b in (edge.faces, edge.faces[::-1]):
                if a not in flat and _is_flat(graph.faces[a], graph.faces[b].surface):
                    flat[a] = graph.faces[b].surface
                if _may_be_crumb(graph.faces[a], graph.faces[b]):
                    doubtful.setdefault(a, []).append(b)
    flat |= _crumbs(graph, {a: near for a, near in doubtful.items() if a not in flat}) if doubtful else {}
    if not flat:
        return graph
    faces = tuple(replace(f, surface=flat.get(f.index, f.surface)) for f in graph.faces)
    return replace(graph, faces=faces)


def _is_flat(face: FaceFact, plane: Surface) -> bool:
    if face.surface.kind != "cylinder" or plane.kind != "plane" or not len(face.triangles):
        return False
    rest = face.triangles.reshape(-1, 3) - np.array(plane.origin)
    off = np.abs(rest @ np.array(plane.axis)).max()
    return bool(off < LEDGE and off < SMOOTH * face.surface.radius * SMOOTH)


def _may_be_crumb(face: FaceFact, other: FaceFact) -> bool:
    """True for a small face beside a much larger one on another simple surface that looks the same way."""
    small = face.area < CRUMB and face.area < CRUMB_SHARE * other.area
    return small and other.surface.kind != "other" and not same_carrier(face.surface, other.surface)


def _crumbs(graph: FaceGraph, doubtful: dict[int, list[int]]) -> dict[int, Surface]:
    """The carriers of crumbs that lie wholly on one they run into; of several the largest face's."""
    borders: dict[int, list[EdgeFact]] = {a: [] for a in doubtful}
    for edge in graph.edges:
        for face in edge.faces:
            if face in borders:
                borders[face].append(edge)
    found: dict[int, Surface] = {}
    for crumb, near in doubtful.items():
        places = [p for edge in borders[crumb] for p in (*edge.points, *_middles(edge.points))]
        for other in sorted(near, key=lambda n: -graph.faces[n].area):
            surface = graph.faces[other].surface
            if all(abs(off_surface(surface, p)) < CANONICAL for p in places):
                found[crumb] = surface
                break
    return found


def _middles(points: Sequence[Vec3]) -> list[Vec3]:
    """Nothing between the ends of a straight edge is told: half-way it may leave what is round."""
    (x, y, z), (u, v, w) = points[0], points[-1]
    return [((x + u) / 2, (y + v) / 2, (z + w) / 2)] if len(points) == 2 else []
