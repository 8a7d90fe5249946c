"""Where weight and plunging tools press, against what carries the stock."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, dot
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, opening_word, patches_of
from worker.checks.hold._pushing import pressing
from worker.checks.hold._support import Point2, extent, outside
from worker.kernel import measure
from worker.kernel.contact import touches
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


def unpressed_drafts(context: Context, stage: Stage) -> Iterator[Draft]:
    """A fixture of which no clamp or bolt touches the stock holds nothing: what is not stated is air."""
    if stage.holding.kind == "fixture_plate" and not pressing(context, stage):
        below = any(touches(stage.as_is, b.body, TOUCH) for b in stage.holding.of("clamp", "bolt"))
        why = "its clamps bear on it from below" if below else "no clamp or bolt of the fixture touches it"
        yield Draft(
            message=f"Nothing presses on the stock: {why}.",
            measured=0.0,
            limit=1.0,
            unit="1",
            at=measure.centroid(stage.as_is),
            remedy=Remedy(text="Add a clamp.", pointer=context.of_setup(stage, "workholding", "elements")),
        )


def pressing_drafts(context: Context, stage: Stage, outline: tuple[Point2, ...]) -> Iterator[Draft]:
    """Clamps that press down where nothing carries the stock: they bend it, or tip it off the other side."""
    for body in stage.holding.of("clamp"):
        down = [p for p in patches_of(context, stage, body) if dot(p.normal, stage.frame.z) >= 1 - SQUARE]
        over = min((outside(outline, flat(stage, q)) for p in down for q in (*p.points, p.inside)), default=0.0)
        if over > LENGTH:
            yield Draft(
                message=f"{opening_word(body)} presses {context.text(over)} outside what the stock stands on.",
                measured=over,
                limit=0.0,
                unit="mm",
                at=down[0].inside,
                remedy=Remedy(
                    text="Put a jack under it, or move it over one.",
                    pointer=context.of_setup(stage, "workholding", "elements"),
                ),
                level="warning",
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
