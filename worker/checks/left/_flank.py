"""Metal that a dovetail cutter leaves on a flank that leans by another angle than its own."""

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
    """The angle (ISO 13399 KAPR, degrees) that the cutter needs; None where its own is that of all faces left."""
    own = cut.tool.KAPR
    if cut.tool.type != "dovetail_mill" or own is None:
        return None
    other = next((a for a in _leaning(context, stage, lumps) if abs(a - own) > APART), None)
    if other is None:
        return None
    value = round(other, 2)
    text = f"Use a cutter with a KAPR of {value:g}."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, "KAPR"), value=value, unit="deg")


def _leaning(context: Context, stage: Stage, lumps: Sequence[Lump]) -> Iterator[float]:
    """Angles between the faces under the lumps and a level floor: of those that hang over."""
    known = faces(context.part.body)
    for index in sorted({face for lump in lumps for face in lump.faces}):
        normal = measure.face_normal(known[index], measure.face_point_inside(known[index]))
        height = dot(normal, stage.frame.z)
        if -math.cos(math.radians(APART)) < height < -math.sin(math.radians(APART)):
            yield math.degrees(math.acos(-height))
