"""reach.stickout: with the stated stick-out the holder would touch something before the tool is down."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.tool import Tool
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.reach._flutes import ground, held_by_its_edge
from worker.checks.reach._result import at_least, at_most, body_word, features_of, or_later, reach_of_step
from worker.reach.model import Contact, Reach
from worker.stage.model import Cut, Stage


@rule(
    "reach.stickout",
    scope="cut",
    metal="here",
    facets=True,
    why="A holder that meets metal breaks the tool, the part or the spindle.",
    reference="geometry: tool assembly against part, stock and workholding; least stick-out stated to 0.02 mm",
    limits=(
        Limit("least_shank_grip", 2.0, "1", "common practice: diameters of shank within the holder (from memory)"),
    ),
)
def stickout(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Compares the stated stick-out with the least one that works, and with the length that is ground to cut."""
    found = reach_of_step(context, stage, cut)
    if isinstance(found, Reach) and found.holder is not None and (found.least_stickout or 0.0) > _enough(cut.tool):
        yield _draft(context, stage, cut, found, found.holder)
        return
    yield from held_by_its_edge(context, cut)
    if isinstance(found, Skip):
        yield found
    elif found.least_stickout is None:
        yield Skip(f"tool {cut.tool.id} is stated without a holder")


def _enough(tool: Tool) -> float:
    return tool.stickout + LENGTH


def _draft(context: Context, stage: Stage, cut: Cut, found: Reach, contact: Contact) -> Draft:
    least = found.least_stickout or 0.0
    return Draft(
        message=f"The holder of {cut.tool.id} would go {context.text(contact.depth)} into {body_word(contact.body)}: "
        f"it stands out {context.text(cut.tool.stickout)} where at least {context.text(least)} is needed.",
        features=features_of(cut),
        measured=cut.tool.stickout,
        limit=least,
        unit="mm",
        at=contact.point,
        remedy=_remedy(context, cut, found, _or_else(context, stage, cut, found, contact)),
    )


def _remedy(context: Context, cut: Cut, found: Reach, or_else: str) -> Remedy:
    value, overall = at_least(found.least_stickout or 0.0), cut.tool.OAL
    longest = math.inf if overall is None else max(overall - _grip(context, cut.tool), cut.tool.stickout) + LENGTH
    if overall is not None and value > longest:
        return _longer_tool(context, cut.tool, or_else, value, overall)
    edge = at_least(ground(cut.tool))
    value = max(value, edge) if edge <= longest else value  # or it would be held by its cutting edge next
    text = f"Let {cut.tool.id} stand out {context.text(value)}{or_else}."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, "stickout"), value=value, unit="mm")


def _grip(context: Context, tool: Tool) -> float:
    """How much of the shank has to stay within the holder, mm; a plan that leaves less is taken at its word."""
    return context.limit("least_shank_grip") * tool.shank_diameter


def _longer_tool(context: Context, tool: Tool, or_else: str, value: float, overall: float) -> Remedy:
    longest = max(overall - _grip(context, tool), tool.stickout)
    whole = at_least(value + _grip(context, tool))
    text = (
        f"No stick-out of {tool.id} does: of its OAL of {context.text(overall)} at most {context.text(longest)} stand "
        f"out. Use a tool with OAL of at least {context.text(whole)}, standing out {context.text(value)}"
        f"{or_else}, or cut it in another setup."
    )
    return Remedy(text=text, pointer=context.of_tool(tool, "OAL"), value=whole, unit="mm")


def _or_else(context: Context, stage: Stage, cut: Cut, found: Reach, contact: Contact) -> str:
    """A slimmer holder, where one would do, the workholding that could go elsewhere, the step that takes the stock."""
    text = ""
    if found.slimmest_holder is not None:
        text += f", or use a holder of at most ø {context.text(at_most(found.slimmest_holder))} at its lower end"
    if contact.body not in ("part", "stock"):
        text += f", or move {contact.body} away"
    return text + or_later(context, stage, cut, contact.body, contact.point)
