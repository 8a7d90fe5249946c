"""cut.plunge: a cutter that cannot cut at its centre goes straight down into solid metal."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tool import UNDERCUTTERS, Tool
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.cut._way_in import Shut, shut_in
from worker.checks.holes import Pass, passes_of, sentence, tool_word
from worker.checks.metal import place_of, stands_at
from worker.stage.model import Cut, Stage

RIMMED = frozenset({"facemill", "shouldermill"}) | UNDERCUTTERS
"""Mills whose edges end short of the axis (ISO 14649-111 by name; common practice)."""
CENTRES = ("endmill", "bullnose_endmill", "ballnose_endmill")
"""Mills that are taken to cut at their centre."""


@rule(
    "cut.plunge",
    scope="cut",
    metal="here",
    facets=True,
    why="Edges that end short of the axis leave a core of metal, which runs into the cutter's body: it breaks.",
    reference="ISO 14649-11 plunge_toolaxis; ISO 13399 AZ (greatest plunge depth), RMPX (greatest ramping angle)",
    limits=(
        Limit("plunge_depth", 0.5, "mm", "AZ of cutters with inserts starts at about half a millimetre (from memory)"),
        Limit("start_hole", 50.0, "%", "share of DC that inserts on the rim leave uncut at least (common practice)"),
    ),
)
def plunge(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """From outside the stock, from an open side, or in a hole as wide as its core the cutter gets down in the air."""
    if _is_blunt(cut.tool) and cut.plunges:
        yield from (_into_the_full(context, one) for one in passes_of(context, stage, cut) if _is_full(context, one))
        return
    if cut.tool.type not in RIMMED or cut.stands:
        yield Skip("the tool cuts at its centre, or beside an undercut")
        return
    core, deep = cut.tool.diameter * context.limit("start_hole") / 100, context.limit("plunge_depth")
    yield from (_draft(context, stage, cut, one, core) for one in shut_in(stage, cut, core / 2, deep))


def _is_blunt(tool: Tool) -> bool:
    """Tools on a hole's axis that have no edge at their centre."""
    return tool.type == "counterbore" or (tool.type == "countersink" and bool(tool.tip_diameter))


def _is_full(context: Context, one: Pass) -> bool:
    """Whether metal stands on the axis higher than the tool may go down without a hole."""
    assert one.plunge is not None
    x, y, _ = one.stage.frame.to_local(one.plunge.centre)
    point = one.stage.frame.to_world((x, y, one.plunge.tip_z + context.limit("plunge_depth")))
    return stands_at(context, one.stage, place_of(one.stage, one.cut), point)


def _into_the_full(context: Context, one: Pass) -> Draft:
    return Draft(
        message=f"{sentence(tool_word(one.cut))} goes down into solid metal on the axis of {one.hole.id}: it has no "
        "edge at its centre, and no hole is there.",
        features=(one.hole.id,),
        measured=one.cut.entry_z - one.cut.tip_z,
        limit=context.limit("plunge_depth"),
        unit="mm",
        at=one.at,
        remedy=Remedy(
            text=f"Drill the hole before step {one.cut.step.id}.", pointer=context.of_step(one.stage, one.cut)
        ),
    )


def _draft(context: Context, stage: Stage, cut: Cut, shut: Shut, core: float) -> Draft:
    where = f" in {', '.join(shut.features)}" if shut.features else ""
    return Draft(
        message=f"{sentence(tool_word(cut))}, ø {context.text(cut.tool.diameter)}, must go straight down "
        f"{context.text(shut.depth)} into solid metal{where}: it does not cut at its centre, and there is no way in "
        "from outside the stock, from an open side or through a hole.",
        features=shut.features or tuple(f.id for f in cut.features),
        measured=shut.depth,
        limit=context.limit("plunge_depth"),
        unit="mm",
        at=shut.at,
        remedy=_remedy(context, stage, cut, core),
    )


def _remedy(context: Context, stage: Stage, cut: Cut, core: float) -> Remedy:
    """Another cutter of the plan where there is one: the largest that is no larger."""
    hole = f"drill a start hole of at least ø {context.text(core)} there before"
    ramp = "ramp in or go down on a helix, no steeper than the cutter's RMPX"
    others = [t for t in context.plan.tools if t.type in CENTRES and t.diameter <= cut.tool.diameter]
    alike = [t for t in others if t.corner_radius == cut.tool.corner_radius]
    best = max(alike, key=lambda t: t.diameter, default=None)
    if best is None:
        text = f"{sentence(hole)}; {ramp}; or use an end mill that cuts at its centre."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "tool"))
    text = f"Use {best.id}, which cuts at its centre; {hole}; or {ramp}."
    return Remedy(text=text, pointer=context.of_step(stage, cut, "tool"), value=best.id)
