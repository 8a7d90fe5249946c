"""Chamfers and rounds on edges that stand upright: the cutter's side makes them, as it does an upright face."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from schemas.base import dot
from schemas.feature import Feature
from schemas.tolerances import LENGTH
from schemas.tool import MILLS
from worker.kernel.planar import Region, half_plane, intersect, of_loops, union
from worker.kernel.planar_edge import Edge, Point2, angle_of, arcs, line, point_at, polar
from worker.kernel.shadow import face_facts
from worker.stage.model import ResolvedStep
from worker.stage.removal.planes import clear
from worker.stage.removal.scene import Scene, Sweep, nothing

RUN_OUT = 2.0
"""So many times its radius a cutter goes on past the end of a round, straight on, its own radius before it included."""
FLAT = 1e-9
"""One less the cosine between normals of a flat face."""
Circle = tuple[Point2, float]


def clear_edge(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """All stock past the edge's faces, down to their lower end; of a round what lies straight out of it, and past its
    ends as far as the cutter runs out."""
    low = scene.heights(feature)[0]
    if any(scene.sky.shown[i].look != "upright" for i in feature.faces):
        return nothing(low, f"{feature.id} does not look towards the spindle.")
    if job.tool.type not in MILLS:
        return nothing(low, f"{feature.id} stands upright: the side of a mill makes it.")
    past = union([*_past_planes(scene, feature), *_past_rounds(scene, job, feature)])
    return clear(scene, job, intersect(past, scene.domain(job.tool)), low, lowered=job.step.overcut_length)


def _past_planes(scene: Scene, feature: Feature) -> Iterable[Region]:
    facts, far = face_facts(scene.sky.body), 8 * scene.metal.diagonal
    for i in feature.faces:
        sides = [e for e in scene.sky.border(i) if math.dist(e.a, e.b) > LENGTH]
        normals = facts[i].normals
        if sides and all(dot(n, normals[0]) > 1 - FLAT for n in normals):  # be it written as a spline
            x, y, _ = scene.frame.direction_to_local(normals[0])
            yield half_plane(sides[0].a, (x, y), far)


def _past_rounds(scene: Scene, job: ResolvedStep, feature: Feature) -> Iterable[Region]:
    circles: dict[tuple[float, ...], tuple[Circle, list[Edge]]] = {}
    for edge in (e for i in feature.faces for e in scene.sky.border(i)):
        if edge.centre is not None:
            key = tuple(round(v / LENGTH) for v in (*edge.centre, edge.radius))
            circles.setdefault(key, ((edge.centre, edge.radius), []))[1].append(edge)
    for circle, edges in circles.values():
        start, sweep = _turn(circle[0], edges)
        if sweep <= math.pi + LENGTH:
            yield _past_round(circle, start, sweep, RUN_OUT * job.tool.radius, 8 * scene.metal.diagonal)


def _turn(centre: Point2, edges: Sequence[Edge]) -> tuple[float, float]:
    """Where the arcs of one circle begin, and how far they go round all together (radians, counter-clockwise)."""
    middles = np.array([point_at(e, 0.5) for e in edges]).mean(axis=0) - centre
    middle = math.atan2(middles[1], middles[0])
    ends = [angle_of(centre, p) - middle for e in edges for p in (e.a, e.b)]
    off = [(angle + math.pi) % math.tau - math.pi for angle in ends]
    return middle + min(off), max(off) - min(off)


def _past_round(circle: Circle, start: float, sweep: float, run_out: float, far: float) -> Region:
    """What lies past an arc and past its tangents, so far along them."""
    (centre, radius), end = circle, start + sweep
    first, last = polar(centre, radius, start), polar(centre, radius, end)
    before = polar(first, run_out, start - math.pi / 2)
    after = polar(last, run_out, end + math.pi / 2)
    out = [polar(before, far, start), polar(centre, 3 * far, (start + end) / 2), polar(after, far, end)]
    corners = [first, before, *out, after, last]
    straight = [line(p, q) for p, q in pairwise(corners)]
    return of_loops([[*straight, *arcs(centre, radius, end, -sweep)]])
