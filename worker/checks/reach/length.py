"""reach.length: the usable length LU is shorter than what stands beside the cut is high."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.reach._result import at_least, body_word, features_of, reach_of_step
from worker.stage.model import Cut, Stage


@rule(
    "reach.length",
    scope="cut",
    metal="here",
    facets=True,
    why="Below its usable length a tool neither cuts nor carries off its chips.",
    reference="ISO 13399 LU",
)
def length(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """The depth is taken from the highest metal beside the cutter's path to the tip."""
    found = reach_of_step(context, stage, cut)
    if isinstance(found, Skip):
        yield found
    elif cut.tool.LU is None and cut.tool.APMX is None:
        yield Skip(f"tool {cut.tool.id} is stated without a usable length")
    elif found.length_shortfall > LENGTH:
        value = at_least(found.depth)
        yield Draft(
            message=f"{cut.tool.id} goes {context.text(found.depth)} below the top of {body_word(found.beside)} "
            f"beside the cut, but is usable only {context.text(found.usable)} long.",
            features=features_of(cut),
            measured=found.usable,
            limit=found.depth,
            unit="mm",
            at=found.deepest,
            remedy=Remedy(
                text=f"Use a tool with LU of at least {context.text(value)}.",
                pointer=context.of_tool(cut.tool, "LU"),
                value=value,
                unit="mm",
            ),
        )
