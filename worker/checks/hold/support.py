"""hold.support: nothing flat to stand on, or the weight or a cut lies outside the support."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import TOUCH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import jaw_patches, support_patches, vise_of
from worker.checks.hold._loads import flat, thrust_drafts, weight_drafts
from worker.checks.hold._locating import locator_drafts
from worker.checks.hold._support import hull
from worker.kernel import measure
from worker.kernel.contact import touches
from worker.stage.model import SUPPORTING, Stage


@rule(
    "hold.support",
    scope="stage",
    metal="as_is",
    facets=True,
    why="Stock that stands on an edge or overhangs its support rocks under the cut, or tips out.",
    reference="statics; 3-2-1 locating and overhang: common practice",
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
    """Under the as-is solid: parallels, bed, plate, jacks, given bodies; then weight, plunging cuts, locators."""
    vise = vise_of(stage)
    if vise is not None and vise.jaws == "soft":
        yield Skip("the nest of soft jaws has the stock's form")
        return
    yield from locator_drafts(context, stage)
    found = support_patches(context, stage)
    below = stage.holding.of(*sorted(SUPPORTING))
    if not found:
        if stage.holding.kind == "bodies" and any(touches(stage.as_is, b.body, TOUCH) for b in below):
            yield Skip("the stock lies in given bodies without a level flat; its support is not computed")
        else:
            yield _nothing(context, stage)
        return
    outline = hull([flat(stage, p) for patch in found for p in patch.points])
    clamped = [p for role in ("jaw_fixed", "jaw_moving") for p in jaw_patches(context, stage, role)]
    wide = hull([*outline, *(flat(stage, p) for patch in clamped for p in patch.points)])
    yield from weight_drafts(context, stage, wide if vise is not None else outline)
    yield from thrust_drafts(context, stage, wide)


def _nothing(context: Context, stage: Stage) -> Draft:
    text = "Use soft jaws with a nest." if vise_of(stage) else "Put a plate, jack or locator under it."
    centre = measure.centroid(stage.as_is)
    x, y, _ = stage.frame.to_local(centre)
    return Draft(
        message="The stock has nothing flat to stand on: no level face of it meets parallels, bed, plate or jack.",
        measured=0.0,
        unit="mm2",
        at=stage.frame.to_world((x, y, stage.holding.support_z)),
        remedy=Remedy(text=text, pointer=context.of_setup(stage, "workholding")),
    )
