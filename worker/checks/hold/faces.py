"""hold.faces: the jaws do not meet two flat, parallel, opposite faces; a clamp bears on nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import TOUCH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._clamps import clamp_drafts
from worker.checks.hold._contacts import could_clamp, jaw_direction, jaw_patches, met_across, total, vise_of
from worker.kernel import measure
from worker.kernel.contact import OPPOSITE
from worker.kernel.walls_side import sides_of
from worker.stage.model import Jaws, Stage

LEANS = 15.0
"""Degrees up to which a flat beside a jaw counts as one that leans, for the words alone."""


@rule(
    "hold.faces",
    scope="stage",
    metal="as_is",
    facets=True,
    why="On a round, sloped or offset face the jaws meet an edge: the stock turns, lifts or is marked.",
    reference="common practice: jaws want two flat, parallel, opposite faces",
    limits=(
        Limit(
            "least_opposed_share",
            0.25,
            "1",
            "common practice, no standard: share of the smaller jaw area that is opposed",
        ),
    ),
    because_of=("hold.opening",),
)
def hold_faces(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """On the real as-is solid, within the jaws' height and width."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    if vise is None or jaws is None:
        bodies = stage.holding.of("clamp", "bolt")
        yield from (d for body in bodies for d in clamp_drafts(context, stage, body))
        if not bodies:
            yield Skip("neither vise nor clamps")
    elif vise.jaws == "soft":
        yield Skip("soft jaws are cut to the stock's form")
    else:
        yield from _jaws(context, stage, jaws)


def _jaws(context: Context, stage: Stage, jaws: Jaws) -> Iterator[Draft]:
    fixed, moving = (jaw_patches(context, stage, role) for role in ("jaw_fixed", "jaw_moving"))
    names = [n for n, met in (("fixed", fixed), ("moving", moving)) if not met]
    if names:
        lean = _leaning(stage, jaws, "fixed" in names)
        off = f": the flat there leans by {lean:.3g} degrees" if lean is not None else ""
        yield Draft(
            message=f"The {' and the '.join(names)} jaw: no flat face of the stock square to {jaws.axis} to meet{off}.",
            measured=0.0,
            unit="mm2",
            at=_middle(stage, jaws, "fixed" in names),
            remedy=_other_axis(context, stage, jaws),
        )
        return
    opposed = sum(area for area, _ in met_across(context, stage))
    smaller = min(total(fixed), total(moving))
    if opposed < context.limit("least_opposed_share") * smaller:
        yield Draft(
            message=f"The faces between the jaws are not opposite: {100 * opposed / smaller:.0f} % of the smaller one "
            "has metal and jaw straight across.",
            measured=opposed,
            limit=context.limit("least_opposed_share") * smaller,
            unit="mm2",
            at=fixed[0].inside,
            remedy=_other_axis(context, stage, jaws),
        )


def _leaning(stage: Stage, jaws: Jaws, low: bool) -> float | None:
    """By how much (degrees) the largest flat beside a jaw leans; None where none leans by less than ``LEANS``."""
    axis, z = jaw_direction(stage, jaws), (jaws.support_z, jaws.top_z)
    way, i = (-1.0 if low else 1.0), 0 if jaws.axis == "X" else 1
    found = []
    for side in sides_of(stage.as_is):
        cosine = way * dot(side.surface.axis, axis) if side.surface.kind == "plane" else 0.0
        leans = math.cos(math.radians(LEANS)) < cosine < -OPPOSITE
        box = measure.box_of(side.shape, stage.frame) if leans else None
        if box is None or box.min[2] >= z[1] or box.max[2] <= z[0]:
            continue
        if (box.min[i] <= jaws.low + TOUCH) if low else (box.max[i] >= jaws.high - TOUCH):
            found.append((box.size[2] * box.size[1 - i], math.degrees(math.acos(min(cosine, 1.0)))))
    return max(found)[1] if found else None


def _middle(stage: Stage, jaws: Jaws, low: bool) -> tuple[float, float, float]:
    along, z = (jaws.low if low else jaws.high), (jaws.support_z + jaws.top_z) / 2
    point = (along, jaws.centre, z) if jaws.axis == "X" else (jaws.centre, along, z)
    return stage.frame.to_world(point)


def _other_axis(context: Context, stage: Stage, jaws: Jaws) -> Remedy:
    """The other axis, where the stock has flats there and the vise opens as far; else a nest."""
    vise = vise_of(stage)
    other: Literal["X", "Y"] = "Y" if jaws.axis == "X" else "X"
    if vise is not None and could_clamp(stage, vise, other):
        pointer = context.of_setup(stage, "workholding", "jaw_axis")
        return Remedy(text=f"Clamp along {other}, where the stock has flats.", pointer=pointer, value=other)
    text = "Use soft jaws with a nest of the stock's form, or machine flats first."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding", "jaws"))
