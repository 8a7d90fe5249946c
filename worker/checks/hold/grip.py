"""hold.grip: too little metal between the jaws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from schemas.finding import Remedy
from schemas.tolerances import CONTACT_AREA, LENGTH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import (
    Met,
    Span,
    across,
    beside_jaw,
    jaw_patches,
    joined,
    met_across,
    strips,
    vise_of,
)
from worker.stage.model import Jaws, Stage


@rule(
    "hold.grip",
    scope="stage",
    metal="as_is",
    facets=True,
    why="A part held by its last millimetres is pulled out by the cutter.",
    reference="common practice, no standard: 3 mm for light cuts, a fifth to a third of the height usual",
    limits=(
        Limit("least_grip_depth", 3.0, "mm", "common practice, light cuts in plain jaws (from memory)"),
        Limit("least_grip_depth_serrated", 1.5, "mm", "common practice, serrated or dovetail jaws (from memory)"),
    ),
    because_of=("hold.faces",),
)
def grip(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """The height of metal that the jaws meet above the parallels: flat faces of the stock straight across from each
    other, without the grooves between them, which the jaws bridge; soft jaws: the nest's depth."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    if vise is None or jaws is None:
        yield Skip("no vise")
        return
    name = "least_grip_depth_serrated" if vise.jaw_surface == "serrated" else "least_grip_depth"
    least, depth = context.limit(name), _depth(context, stage, jaws.grip, soft=vise.jaws == "soft")
    if depth >= least - LENGTH:
        return
    found = jaw_patches(context, stage, "jaw_fixed")
    yield Draft(
        message=f"The jaws grip {context.text(depth)}; at least {context.text(least)} is asked for.",
        measured=depth,
        limit=least,
        unit="mm",
        at=found[0].inside if found else None,
        remedy=_remedy(context, stage, jaws, least, depth),
    )


def _depth(context: Context, stage: Stage, stated: float, *, soft: bool) -> float:
    """Height over which the jaws meet flat faces straight across from each other, what lies open between them left out;
    of each jaw by itself where none are (hold.faces); as stated where that is not known."""
    both = [jaw_patches(context, stage, role) for role in ("jaw_fixed", "jaw_moving")]
    if soft or not all(both):
        return stated
    spans = _heights(met_across(context, stage))
    met = [spans] if spans else [strips(stage, patches) for patches in both]
    return min(stated, *(sum(high - low for low, high in spans) for spans in met))


def _heights(found: Sequence[Met]) -> list[Span]:
    """The heights at which flats lie straight across from each other, from the lowest."""
    return joined(span for area, span in found if area > CONTACT_AREA)


def _remedy(context: Context, stage: Stage, jaws: Jaws, least: float, depth: float) -> Remedy:
    """A deeper nest; jaws that reach so far above the parallels that they meet enough; else other faces."""
    vise = vise_of(stage)
    assert vise is not None
    if vise.jaws == "soft":
        key, value = "nest_depth", (vise.nest_depth or 0.0) + least - depth
    else:
        top = _reaching(_heights(across(stage, *(beside_jaw(stage, jaws, low) for low in (True, False)))), least)
        missing = top - jaws.top_z if top is not None else math.inf
        if missing == math.inf:
            text = (
                f"Clamp on faces that the jaws meet over {context.text(least)}: along the other axis, or upside down."
            )
            return Remedy(text=text, pointer=context.of_setup(stage, "workholding"))
        key, value = "jaw_height", vise.jaw_height + missing
        if vise.parallel_height >= missing:
            key, value = "parallel_height", vise.parallel_height - missing
    pointer = context.of_setup(stage, "workholding", key)
    return Remedy(text=f"Set {key} to {context.text(value)}.", pointer=pointer, value=value, unit="mm")


def _reaching(spans: Sequence[Span], least: float) -> float | None:
    """The lowest height up to which so much of the spans lies; None where they are shorter."""
    for low, high in spans:
        if high - low >= least - LENGTH:
            return low + least
        least -= high - low
    return None
