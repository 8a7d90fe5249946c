"""hold.support: nothing flat to stand on, or the weight or a cut lies outside the support."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import jaw_patches, support_patches, vise_of
from worker.checks.hold._locating import locator_drafts
from worker.checks.hold._support import Point2, extent, hull, outside
from worker.kernel import measure
from worker.kernel.contact import touches
from worker.stage.model import SUPPORTING, Stage


@rule(
    "hold.support",
    scope="stage",
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
    outline = hull([_flat(stage, p) for patch in found for p in patch.points])
    yield from _weight(context, stage, outline)
    clamped = [p for role in ("jaw_fixed", "jaw_moving") for p in jaw_patches(context, stage, role)]
    wide = hull([*outline, *(_flat(stage, p) for patch in clamped for p in patch.points)])
    yield from _thrust(context, stage, wide)


def _flat(stage: Stage, point: Vec3) -> Point2:
    x, y, _ = stage.frame.to_local(point)
    return (x, y)


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


def _weight(context: Context, stage: Stage, outline: tuple[Point2, ...]) -> Iterator[Draft]:
    centre = measure.centroid(stage.as_is)
    over = outside(outline, _flat(stage, centre))
    if over > LENGTH:
        yield Draft(
            message=f"The centre of mass lies {context.text(over)} outside what the stock stands on.",
            measured=over,
            limit=0.0,
            unit="mm",
            at=centre,
            remedy=Remedy(text="Put a support under it.", pointer=context.of_setup(stage, "workholding")),
        )


def _thrust(context: Context, stage: Stage, outline: tuple[Point2, ...]) -> Iterator[Draft]:
    limit = context.limit("overhang_share") * extent(outline)
    for cut in stage.cuts:
        found = [(outside(outline, _flat(stage, p.centre)), p) for p in cut.plunges]
        over, worst = max(found, key=lambda pair: pair[0], default=(0.0, None))
        if worst is not None and over > limit:
            yield Draft(
                message=f"Step {cut.step.id} thrusts {context.text(over)} outside support and jaws.",
                features=(worst.feature,),
                measured=over,
                limit=limit,
                unit="mm",
                at=worst.centre,
                remedy=Remedy(text="Put a jack under it.", pointer=context.of_setup(stage, "workholding")),
                cut=cut,
                level="warning",
            )
