"""cut.nothing: the step finds no metal to cut."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import VOLUME_NOTHING
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.order._faults import late_steps
from worker.stage.model import Cut, Stage


@rule(
    "cut.nothing",
    scope="cut",
    metal="here",
    facets=True,
    why="A step in the air costs time, and often means a wrong feature, setup or order.",
    reference="geometry: the step's removal from the stock as it finds it",
    because_of=("fit.too-narrow", "fit.floor-radius", "access.hidden", "access.covered", "order.sequence"),
)
def nothing(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Taps and broken edges remove nothing by definition; a step that comes too late is order.sequence's."""
    if cut.step.operation in ("tapping", "edge_breaking"):
        yield Skip("the operation removes nothing beyond the model")
        return
    if cut.removal_volume > VOLUME_NOTHING or any(cut is late for late in late_steps(context)):
        return
    yield Draft(
        message=f"Step {cut.step.id} finds no metal to cut{_because(context, stage, cut)}.",
        features=tuple(f.id for f in cut.features),
        measured=cut.removal_volume,
        limit=VOLUME_NOTHING,
        unit="mm3",
        at=cut.features[0].placement.location if cut.features else None,
        remedy=Remedy(
            text="Leave the step out, or correct its features, order or allowance.",
            pointer=context.of_step(stage, cut),
        ),
    )


def _because(context: Context, stage: Stage, cut: Cut) -> str:
    """Which earlier step on the same features may have taken it."""
    wanted = {f.id for f in cut.features}
    for other_stage, other in reversed(context.earlier(cut)):
        if wanted & {f.id for f in other.features} and other.removal_volume > VOLUME_NOTHING:
            name = other.step.id if other_stage is stage else f"{other_stage.setup.id}/{other.step.id}"
            return f": step {name} was there before"
    return ""
