"""reach.stickout: with the stated stick-out the holder would touch something before the tool is down."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.reach._result import at_least, at_most, body_word, features_of, reach_of_step
from worker.reach.model import Contact, Reach
from worker.stage.model import Cut, Stage


@rule(
    "reach.stickout",
    scope="cut",
    metal="here",
    facets=True,
    why="A holder that meets metal breaks the tool, the part or the spindle.",
    reference="geometry: tool assembly against part, stock and workholding; least stick-out stated to 0.02 mm",
)
def stickout(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Compares the stated stick-out with the least one that works."""
    found = reach_of_step(context, stage, cut)
    if isinstance(found, Skip):
        yield found
    elif found.least_stickout is None:
        yield Skip(f"tool {cut.tool.id} is stated without a holder")
    elif found.holder is not None and found.least_stickout > cut.tool.stickout + LENGTH:
        yield _draft(context, cut, found, found.holder)


def _draft(context: Context, cut: Cut, found: Reach, contact: Contact) -> Draft:
    least = found.least_stickout or 0.0
    return Draft(
        message=f"The holder of {cut.tool.id} would go {context.text(contact.depth)} into {body_word(contact.body)}: "
        f"it stands out {context.text(cut.tool.stickout)} where at least {context.text(least)} is needed.",
        features=features_of(cut),
        measured=cut.tool.stickout,
        limit=least,
        unit="mm",
        at=contact.point,
        remedy=_remedy(context, cut, found),
    )


def _remedy(context: Context, cut: Cut, found: Reach) -> Remedy:
    value = at_least(found.least_stickout or 0.0)
    text = f"Let {cut.tool.id} stand out {context.text(value)}"
    if cut.tool.OAL is not None and value >= cut.tool.OAL:
        text = (
            f"Use a longer tool than {cut.tool.id} (OAL {context.text(cut.tool.OAL)}): stick-out {context.text(value)}"
        )
    if found.slimmest_holder is not None:
        text += f", or use a holder of at most ø {context.text(at_most(found.slimmest_holder))} at its lower end"
    if found.holder is not None and found.holder.body not in ("part", "stock"):
        text += f", or move {found.holder.body} away"
    return Remedy(text=text + ".", pointer=context.of_tool(cut.tool, "stickout"), value=value, unit="mm")
