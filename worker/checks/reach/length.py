"""reach.length: the usable length LU is shorter than what stands beside the cut is high."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.tool import Tool
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.reach._result import at_least, body_word, features_of, or_later, reach_of_step
from worker.reach.model import Reach
from worker.stage.model import Cut, Stage


@rule(
    "reach.length",
    scope="cut",
    metal="here",
    facets=True,
    why="Below its usable length a tool neither cuts nor carries off its chips.",
    reference="ISO 13399 LU; a tool stated without a holder goes no deeper than it stands out of whatever holds it",
)
def length(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """The depth is taken from the highest metal beside the cutter's path to the tip."""
    found = reach_of_step(context, stage, cut)
    if isinstance(found, Skip):
        yield found
    elif cut.tool.LU is None and cut.tool.APMX is None and cut.tool.holder:
        yield Skip(f"tool {cut.tool.id} is stated without a usable length")
    elif found.length_shortfall > LENGTH:
        yield _draft(context, stage, cut, found)


def _draft(context: Context, stage: Stage, cut: Cut, found: Reach) -> Draft:
    why = f"is usable only {context.text(found.usable)} long"
    if _is_held_too_far_in(cut.tool):
        why = f"stands only {context.text(found.usable)} out of what holds it"
    return Draft(
        message=f"{cut.tool.id} goes {context.text(found.depth)} below the top of {body_word(found.beside)} "
        f"beside the cut, but {why}.",
        features=features_of(cut),
        measured=found.usable,
        limit=found.depth,
        unit="mm",
        at=found.deepest,
        remedy=_remedy(
            context, cut.tool, at_least(found.depth), or_later(context, stage, cut, found.beside, found.deepest)
        ),
    )


def _is_held_too_far_in(tool: Tool) -> bool:
    """Whether less than its usable length stands out, or all that is known of that length is how far it does."""
    return not tool.holder and (tool.stickout < tool.usable_length or (tool.LU is None and tool.APMX is None))


def _remedy(context: Context, tool: Tool, value: float, or_else: str) -> Remedy:
    if not _is_held_too_far_in(tool):
        text, name = f"Use a tool with LU of at least {context.text(value)}{or_else}.", "LU"
    else:
        text, name = f"Let {tool.id} stand out {context.text(value)}, and state its holder{or_else}.", "stickout"
    return Remedy(text=text, pointer=context.of_tool(tool, name), value=value, unit="mm")
