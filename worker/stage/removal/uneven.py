"""Chamfers that stand at more than one angle, under a straight flank: round mouths in bars, cones from the side."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from schemas.base import Vec3, dot, scale
from schemas.tolerances import LENGTH
from worker.kernel import measure
from worker.kernel.outline import curves
from worker.kernel.shadow import face_facts
from worker.kernel.shape import Body, edges, pick, translate_body
from worker.stage.removal.scene import Scene

AT_MOST = 0.5
"""A flank may leave so much of a strip's width; of one that it meets worse it takes nothing."""


def uneven_column(scene: Scene, index: int, column: Body, flank: float) -> tuple[Body | None, str]:
    """The column on a chamfer face, higher by what a flank of that half angle (degrees) may leave on it; and a note.

    The flank touches the strip along one edge and stands off the other by its width times the sine of what the angles
    differ. That much is left all over: no more is proved to go, and where it is a micrometre all goes. Where that is
    more than half the width (a strip round an axis that lies aside) nothing is told to go.
    """
    low, high = _slopes(face_facts(scene.sky.body)[index].normals, scene.frame.z)
    share = math.sin(math.radians(max(abs(low - flank), abs(high - flank))))
    left = _width(scene.part.body, index) * share
    if left <= LENGTH:
        return column, ""
    note = f"The tool's flank stands at {flank:g}°, the chamfer at {low:.1f} to {high:.1f}°"
    if low <= 0 or share > AT_MOST:
        return None, f"{note}: it takes nothing there."
    higher = translate_body(column, scale(scene.frame.z, left / math.sin(math.radians(low))))
    return higher, f"{note}: up to {left:.3f} mm stays."


def _slopes(normals: Sequence[Vec3], up: Vec3) -> tuple[float, float]:
    """The least and the largest angle between a face and the upright (degrees)."""
    found = [math.degrees(math.asin(max(-1.0, min(1.0, dot(normal, up))))) for normal in normals]
    return min(found), max(found)


def _width(body: Body, index: int) -> float:
    """How wide a strip is across (mm), by its area and the length of its border: of a ring that has no ends what
    Pappus tells, of any other the short side of that rectangle."""
    (face,), uses = pick(body, [index]), Counter(n for n, _ in face_facts(body)[index].border)
    border = [n for n, count in uses.items() if count == 1]  # the others are seams
    every = edges(body.wrapped)
    area, around = measure.area(face), sum(measure.length(every[n]) for n in border)
    if _loops(body, border) == 2:
        return 2 * area / around
    root = around**2 / 16 - area
    return around / 4 - math.sqrt(root) if root > 0 else around / 4


def _loops(body: Body, border: Sequence[int]) -> int:
    """How many closed chains the edges of that number make."""
    loops: list[set[Vec3]] = []
    for curve in (curves(body)[n] for n in border):
        ends = {_cell(curve.a), _cell(curve.b)}
        met = [loop for loop in loops if loop & ends]
        loops = [*(loop for loop in loops if not loop & ends), ends.union(*met)]
    return len(loops)


def _cell(point: Vec3) -> Vec3:
    return round(point[0], 5), round(point[1], 5), round(point[2], 5)
