"""Metal that a dovetail or chamfering cutter leaves on a flank that leans by another angle than its own."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from schemas.base import dot
from schemas.finding import Remedy
from worker.checks.api import Context
from worker.kernel import measure
from worker.kernel.shape import faces
from worker.residual import Lump
from worker.stage.model import Cut, Stage

APART = 0.05
"""Angles that differ by less (degrees) are one: over a flank of 10 mm it is a hundredth of a millimetre."""


def other_flank(context: Context, stage: Stage, cut: Cut, lumps: Sequence[Lump]) -> Remedy | None:
    """The angle (ISO 13399 KAPR; SIG of a chamfering cutter; degrees) that the cutter needs; None where its own is that
    of all faces left."""
    if cut.step.operation == "chamfering" and cut.tool.SIG is not None:
        return _point(context, stage, cut, cut.tool.SIG, lumps)
    own = cut.tool.KAPR
    if cut.tool.type != "dovetail_mill" or own is None:
        return None
    other = next((a for a in _leaning(context, stage, lumps) if abs(a - own) > APART), None)
    if other is None:
        return None
    value = round(other, 2)
    text = f"Use a cutter with a KAPR of {value:g}."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, "KAPR"), value=value, unit="deg")


def _point(context: Context, stage: Stage, cut: Cut, own: float, lumps: Sequence[Lump]) -> Remedy | None:
    """The included angle whose flank lies on the chamfers that metal is left on; a free-form edge has none."""
    made = {index for feature in cut.features if feature.class_ != "region" for index in feature.faces}
    heights = (height for index, height in _heights(context, stage, lumps) if index in made)
    wanted = (2 * math.degrees(math.asin(height)) for height in heights if 0 < height < 1)
    other = next((angle for angle in wanted if abs(angle - own) > APART), None)
    if other is None:
        return None
    value = round(other, 2)
    text = f"Use a cutter with a SIG of {value:g}, as the chamfer stands."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, "SIG"), value=value, unit="deg")


def _leaning(context: Context, stage: Stage, lumps: Sequence[Lump]) -> Iterator[float]:
    """Angles between the faces under the lumps and a level floor: of those that hang over."""
    for _, height in _heights(context, stage, lumps):
        if -math.cos(math.radians(APART)) < height < -math.sin(math.radians(APART)):
            yield math.degrees(math.acos(-height))


def _heights(context: Context, stage: Stage, lumps: Sequence[Lump]) -> Iterator[tuple[int, float]]:
    """The faces under the lumps, by number, with the height of a unit normal of each."""
    known = faces(context.part.body)
    for index in sorted({face for lump in lumps for face in lump.faces}):
        normal = measure.face_normal(known[index], measure.face_point_inside(known[index]))
        yield index, dot(normal, stage.frame.z)
