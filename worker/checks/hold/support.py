"""hold.support: nothing flat to stand on, or the weight or a cut lies outside the support."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import TOUCH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._bending import bending_drafts
from worker.checks.hold._contacts import vise_of
from worker.checks.hold._loads import pressing_drafts, thrust_drafts, unpressed_drafts, weight_drafts
from worker.checks.hold._locating import locator_drafts
from worker.checks.hold._pushing import unopposed_drafts
from worker.checks.hold._resting import held_outline, support_outline
from worker.checks.hold._seating import leaning_drafts, parallel_drafts
from worker.checks.hold._thicker import thicker_parallels
from worker.kernel import measure
from worker.kernel.contact import touches
from worker.stage.model import Stage


@rule(
    "hold.support",
    scope="stage",
    metal="as_is",
    facets=True,
    why="Stock that stands on an edge or overhangs its support rocks under the cut, or tips out.",
    reference="statics; 3-2-1 locating and overhang: common practice; stock under a clamp between supports: an "
    "estimate, as a beam at the group's yield stress",
    limits=(
        Limit(
            "overhang_share",
            0.5,
            "1",
            "common practice: overhang of a plunging cut over the support",
        ),
        Limit("locator_gap", 0.05, "mm", "common practice: clearance of a locating pin"),
    ),
)
def support(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """What carries the as-is solid (parallels, plate, jacks, bodies, a nest); then weight, clamps, plunging cuts."""
    yield from locator_drafts(context, stage)
    yield from unpressed_drafts(context, stage)
    yield from unopposed_drafts(context, stage)
    vise = vise_of(stage)
    outline = support_outline(context, stage)
    wide = held_outline(context, stage, outline) if outline or (vise is not None and vise.jaws == "soft") else ()
    if not wide:
        yield _nothing(context, stage) if not _from_the_side(stage) else Skip("given bodies hold it from the side only")
        return
    yield from weight_drafts(context, stage, wide if vise is not None else outline)
    if vise is not None and vise.jaws == "hard":
        yield from parallel_drafts(context, stage, vise)
        yield from leaning_drafts(context, stage, outline, wide)
    yield from pressing_drafts(context, stage, outline)
    yield from bending_drafts(context, stage)
    yield from thrust_drafts(context, stage, wide)


def _from_the_side(stage: Stage) -> bool:
    """Given bodies that touch the stock without carrying it, as a chuck does."""
    held = stage.holding.of("body")
    return stage.holding.kind == "bodies" and any(touches(stage.as_is, b.body, TOUCH) for b in held)


def _nothing(context: Context, stage: Stage) -> Draft:
    vise = vise_of(stage)
    text = "Use soft jaws with a nest." if vise is not None else "Put a plate, jack or locator under it."
    if vise is not None and vise.jaws == "soft":
        text = "Move the jaws to where the stock is."
    centre = measure.centroid(stage.as_is)
    x, y, _ = stage.frame.to_local(centre)
    return Draft(
        message="The stock has nothing flat to stand on: no level face of it meets parallels, bed, plate or jack.",
        measured=0.0,
        unit="mm2",
        at=stage.frame.to_world((x, y, stage.holding.support_z)),
        remedy=thicker_parallels(context, stage) or Remedy(text=text, pointer=context.of_setup(stage, "workholding")),
    )
