"""fit.lead: a tap is fed by another way in a turn than its thread's pitch."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.heights import first_place
from worker.stage.model import Cut, Stage


@rule(
    "fit.lead",
    scope="cut",
    metal="none",
    facets=True,
    why="A tap that is not fed by its own pitch strips the thread or breaks.",
    reference="ISO 14649-11 tapping; ISO 13399 TP",
    limits=(Limit("lead_difference", 10.0, "%", "holders that give are fed some percent less (common practice)"),),
)
def lead(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """The stated feed a revolution against the pitch of the tap's thread."""
    fed, screw = cut.step.technology.feed_per_rev, cut.tool.screw
    if cut.step.operation != "tapping" or fed is None or screw is None:
        yield Skip("no tap with a stated feed")
        return
    if abs(fed - screw.pitch) <= screw.pitch * context.limit("lead_difference") / 100:
        return
    yield Draft(
        message=f"Tap {cut.tool.id}, {cut.tool.thread}, has a pitch of {context.text(screw.pitch)}; the step feeds "
        f"{context.text(fed)} a turn.",
        features=tuple(f.id for f in cut.features),
        measured=fed,
        limit=screw.pitch,
        unit="mm",
        at=first_place(cut),
        remedy=Remedy(
            text=f"Set feed_per_rev to {context.text(screw.pitch)}.",
            pointer=context.of_step(stage, cut, "technology", "feed_per_rev"),
            value=screw.pitch,
            unit="mm",
        ),
    )
