"""Steps that a mill leaves on the floor of a recess that slopes: no other cutter mends them from the same side."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from schemas.base import Vec3, dot
from schemas.finding import Remedy
from schemas.tolerances import SEEN_ANGLE
from schemas.tool import NEEDS_ANGLE
from worker.checks.api import Context
from worker.kernel import measure
from worker.kernel.graph_surface import surface_of
from worker.kernel.shape import faces
from worker.part import RECESSES
from worker.recognise.outlook import seen_too
from worker.residual import Lump
from worker.stage.model import Cut, Stage

SQUARE = math.cos(math.radians(SEEN_ANGLE))
STEEPEST = math.cos(math.radians(47.0))
"""A floor at 45 degrees is one, what stands up more is a wall, which the flank makes."""


def steps_on_slope(context: Context, stage: Stage, cut: Cut, lumps: Sequence[Lump]) -> Remedy | None:
    """The axes square to the slopes that all the lumps stand on, where a tool sees the recess along them; None where
    some lump stands on none."""
    if cut.tool.type in NEEDS_ANGLE:
        return None
    owner = {i: f for f in cut.features if f.class_ in RECESSES for i in f.faces}
    slopes = {i: n for i, n in _slopes(context, stage, lumps) if i in owner}
    if any(not set(lump.faces) & set(slopes) for lump in lumps):
        return None
    asked = {owner[i].id: tuple(m for k, m in slopes.items() if owner[k] is owner[i]) for i in slopes}
    told = seen_too(context.part.body, tuple(f for f in cut.features if f.id in asked), asked)
    ways = {f.id: f.access for f in told}
    seen = all(any(dot(way, n) > SQUARE for way in ways[id]) for id, normals in asked.items() for n in normals)
    why = BALL if any(id in cut.followed for id in asked) else STEPS
    return Remedy(text=f"{why}{_square_to(slopes.values()) if seen else _AS_IT_IS}", pointer="/setups")


STEPS, BALL = "Any mill leaves steps on a floor that slopes", "A ball leaves its own round along the walls"
_AS_IT_IS = (
    ", and square to the floor no straight tool sees all of the recess: state a smaller axial_cutting_depth and judge "
    "what is left, or change the part."
)


def _square_to(normals: Iterable[Vec3]) -> str:
    named = sorted({"[" + ", ".join(f"{round(c, 6) + 0.0:g}" for c in n) + "]" for n in normals})
    axis = f"the axis {named[0]}" if len(named) == 1 else f"the axes {' and '.join(named)}"
    return f": cut it square to the floor too, in a setup with {axis}."


def _slopes(context: Context, stage: Stage, lumps: Sequence[Lump]) -> Iterator[tuple[int, Vec3]]:
    """The plane faces under the lumps that are neither level nor walls, by number, with their unit normals."""
    known = faces(context.part.body)
    for index in sorted({face for lump in lumps for face in lump.faces}):
        surface, _ = surface_of(known[index])
        if surface.kind == "plane":
            normal = measure.face_normal(known[index], surface.origin)
            if STEEPEST < dot(normal, stage.frame.z) < SQUARE:
                yield index, normal
