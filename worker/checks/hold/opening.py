"""hold.opening: the stock does not fit between the jaws."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.hold._contacts import vise_of
from worker.kernel import measure
from worker.stage.model import Jaws, Stage


@rule(
    "hold.opening",
    scope="stage",
    metal="as_is",
    facets=True,
    why="A vise that does not open far enough does not take the stock at all.",
    reference="the vise's own max_opening as the plan states it",
)
def opening(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """The stock's width within the jaws' height against the greatest opening."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    if vise is None or jaws is None:
        yield Skip("no vise")
        return
    if vise.max_opening is None:
        yield Skip("the vise states no max_opening")
        return
    if jaws.opening > vise.max_opening + LENGTH:
        yield Draft(
            message=f"The stock is {context.text(jaws.opening)} wide between the jaws; the vise opens "
            f"{context.text(vise.max_opening)}.",
            measured=jaws.opening,
            limit=vise.max_opening,
            unit="mm",
            at=measure.centroid(stage.as_is),
            remedy=_remedy(context, stage, jaws, vise.max_opening),
        )


def _remedy(context: Context, stage: Stage, jaws: Jaws, limit: float) -> Remedy:
    other, number = ("Y", 1) if jaws.axis == "X" else ("X", 0)
    across = measure.bounding_box(stage.as_is, stage.frame).size[number]
    if across <= limit + LENGTH:
        return Remedy(
            text=f"Clamp along {other}, where the stock is {context.text(across)} wide.",
            pointer=context.of_setup(stage, "workholding", "jaw_axis"),
            value=other,
        )
    return Remedy(
        text=f"Use a vise that opens {context.text(jaws.opening)}.",
        pointer=context.of_setup(stage, "workholding", "max_opening"),
        value=jaws.opening,
        unit="mm",
    )
