"""Where weight and plunging tools press, against what carries the stock."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft
from worker.checks.hold._support import Point2, extent, outside
from worker.kernel import measure
from worker.stage.model import Stage


def flat(stage: Stage, point: Vec3) -> Point2:
    """X and Y of a point in the setup's frame."""
    x, y, _ = stage.frame.to_local(point)
    return (x, y)


def weight_drafts(context: Context, stage: Stage, outline: tuple[Point2, ...]) -> Iterator[Draft]:
    """The centre of mass against the outline of what carries it (of a vise: and what clamps it)."""
    centre = measure.centroid(stage.as_is)
    over = outside(outline, flat(stage, centre))
    if over > LENGTH:
        yield Draft(
            message=f"The centre of mass lies {context.text(over)} outside what the stock stands on.",
            measured=over,
            limit=0.0,
            unit="mm",
            at=centre,
            remedy=Remedy(text="Put a support under it.", pointer=context.of_setup(stage, "workholding")),
        )


def thrust_drafts(context: Context, stage: Stage, outline: tuple[Point2, ...]) -> Iterator[Draft]:
    """Tools that press down on an axis, against the outline of support and jaws; a warning, for clamps hold too."""
    limit = context.limit("overhang_share") * extent(outline)
    for cut in stage.cuts:
        found = [(outside(outline, flat(stage, p.centre)), p) for p in cut.plunges]
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
