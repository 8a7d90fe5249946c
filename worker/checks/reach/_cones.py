"""Pointed cutters along a V-groove: of them the cone alone is sure to cut, and a pass is no deeper than it is high."""

from __future__ import annotations

import math
from itertools import pairwise

from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft
from worker.checks.reach._result import features_of, in_passes
from worker.kernel import measure
from worker.kernel.planar import Region, overlap, polygon, union
from worker.kernel.planar_edge import Point2
from worker.kernel.shadow import Skyline
from worker.kernel.shape import is_empty
from worker.reach.model import Reach
from worker.stage.model import Cut, Stage, Way

CHORD = 0.2
"""Chords that stand for a bend span no more of it (rad)."""


def above_its_cone(context: Context, stage: Stage, cut: Cut, found: Reach) -> Draft | None:
    """A draft where a pass meets metal higher than the cone, which no stated depth of a pass takes before."""
    high, stated = cut.tool.point_length, cut.step.technology.axial_cutting_depth
    if not cut.ways or is_empty(cut.removal) or (stated is not None and stated <= high + LENGTH):
        return None
    metal = Skyline(cut.removal, stage.frame)
    for tip in sorted({way.tip for way in cut.ways}):
        over = metal.above(tip + high + LENGTH)
        path = union(_path(way, cut.tool.radius - LENGTH) for way in cut.ways if way.tip == tip)
        if over and overlap(over, path):
            deep = measure.bounding_box(cut.removal, stage.frame).max[2] - tip
            return _draft(context, stage, cut, found, deep if stated is None else min(stated, deep))
    return None


def _path(way: Way, half: float) -> Region:
    """All that is no farther aside of a way than so much; of a bend its chords tell."""
    count = max(math.ceil(abs(way.turn) / CHORD), 1)
    places = [way.place(k / count) for k in range(count + 1)]
    return union(_beside(a, b, half) for a, b in pairwise(places))


def _beside(a: Point2, b: Point2, half: float) -> Region:
    (ax, ay), (bx, by) = a, b
    long = max(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5, LENGTH)
    x, y = -(by - ay) / long * half, (bx - ax) / long * half
    return polygon([(ax - x, ay - y), (bx - x, by - y), (bx + x, by + y), (ax + x, ay + y)])


def _draft(context: Context, stage: Stage, cut: Cut, found: Reach, deep: float) -> Draft:
    stated = cut.step.technology.axial_cutting_depth is not None
    ending = "" if stated else ", and no depth of a pass is stated"
    return Draft(
        message=f"{cut.tool.id} meets metal {context.text(deep)} above its tip in one pass; its cone is "
        f"{context.text(cut.tool.point_length)} high{ending}: the body above would rub.",
        features=features_of(cut),
        measured=deep,
        limit=cut.tool.point_length,
        unit="mm",
        at=found.deepest,
        remedy=in_passes(context, stage, cut, cut.tool.point_length),
    )
