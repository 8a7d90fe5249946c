"""Tools that are held by their cutting edges: less stands out of the holder than is ground to cut."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.tool import MILLS, Tool
from worker.checks.api import Context, Draft
from worker.checks.reach._result import at_least, features_of
from worker.stage.model import Cut

FLUTED = MILLS | {"twist_drill", "reaming_cutting_tool", "tapping_cutting_tool"}
"""Tools whose edges run up to the length that the plan states; of pointed ones only the cone is sure to cut, and a
boring tool's LU is the length of its bar."""


def held_by_its_edge(context: Context, cut: Cut) -> Iterator[Draft]:
    """One draft a tool, at the first step that uses it. It can be clamped like that, but does not run true."""
    edge = ground(cut.tool)
    first = next(other for _, other in context.sequence if other.tool.id == cut.tool.id)
    if first is cut and edge > cut.tool.stickout + LENGTH:
        yield _draft(context, cut, edge)


def ground(tool: Tool) -> float:
    """Length from the tip that is sure to be ground to cut, mm; 0 where the plan states none."""
    stated = tool.LU is not None or tool.APMX is not None
    return tool.edge_length if tool.type in FLUTED and stated else tool.point_length


def _draft(context: Context, cut: Cut, edge: float) -> Draft:
    tool, value = cut.tool, at_least(edge)
    return Draft(
        message=f"{tool.id} stands out {context.text(tool.stickout)}, but is ground to cut over {context.text(edge)}: "
        "it would be clamped on its cutting edges.",
        features=features_of(cut),
        measured=tool.stickout,
        limit=edge,
        unit="mm",
        remedy=Remedy(
            text=f"Let {tool.id} stand out {context.text(value)}, or use a tool with a shorter edge.",
            pointer=context.of_tool(tool, "stickout"),
            value=value,
            unit="mm",
        ),
        level="warning",
    )
