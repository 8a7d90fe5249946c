"""hold.faces: the jaws do not meet two flat, parallel, opposite faces; a clamp bears on nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from schemas.base import scale
from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._clamps import clamp_drafts
from worker.checks.hold._contacts import flats_across, jaw_direction, jaw_patches, total, vise_of
from worker.kernel.contact import opposed_area
from worker.stage.model import Jaws, Stage


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
        yield Draft(
            message=f"The {' and the '.join(names)} jaw: no flat face of the stock square to {jaws.axis} to meet.",
            measured=0.0,
            unit="mm2",
            at=_middle(stage, jaws, "fixed" in names),
            remedy=_other_axis(context, stage, jaws),
        )
        return
    opposed = opposed_area(fixed, moving, scale(jaw_direction(stage, jaws), jaws.opening))
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


def _middle(stage: Stage, jaws: Jaws, low: bool) -> tuple[float, float, float]:
    along, z = (jaws.low if low else jaws.high), (jaws.support_z + jaws.top_z) / 2
    point = (along, jaws.centre, z) if jaws.axis == "X" else (jaws.centre, along, z)
    return stage.frame.to_world(point)


def _other_axis(context: Context, stage: Stage, jaws: Jaws) -> Remedy:
    """The other axis, where the stock has flats there; else a nest."""
    other: Literal["X", "Y"] = "Y" if jaws.axis == "X" else "X"
    if all(flats_across(stage, other)):
        pointer = context.of_setup(stage, "workholding", "jaw_axis")
        return Remedy(text=f"Clamp along {other}, where the stock has flats.", pointer=pointer, value=other)
    text = "Use soft jaws with a nest of the stock's form, or machine flats first."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding", "jaws"))
