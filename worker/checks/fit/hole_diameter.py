"""fit.hole-diameter: the size that a drill, reamer or boring tool leaves is not the hole's."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.tolerances import LENGTH
from worker.checks import remedies
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.fit._ends import SINKS
from worker.checks.holes import Pass, makes_cylinder, passes_at, passes_of, sentence, thread_of, tool_word
from worker.checks.standing import unfinished
from worker.stage.model import Cut, Stage


@rule(
    "fit.hole-diameter",
    scope="cut",
    metal="end",
    facets=True,
    why="A hole drilled too large cannot be mended; one left too small does not take its screw, pin or bearing.",
    reference="ISO 14649-10 round_hole, diameter; ISO 13399 DC",
    limits=(
        Limit(
            "hole_diameter_difference",
            0.01,
            "mm",
            "inside the makers' own tolerance of a twist drill, h8: 0/-0.022 mm from 6 to 10 mm (ISO 235, from "
            "memory); lets 17/64 in pass for 0.266 in",
        ),
    ),
)
def hole_diameter(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Pilots are sound when another step brings the hole to size; tapped holes are fit.tap-drill's."""
    sinks = cut.tool.type in SINKS and cut.step.operation == "counter_sinking"
    if not cut.plunges or not (makes_cylinder(cut) or sinks):
        yield Skip("the step leaves no hole of its tool's diameter")
        return
    faults = [p for p in passes_of(context, stage, cut) if _is_wrong(context, p)]
    for size in sorted({round(p.hole.diameter or 0.0, 6) for p in faults}):
        alike = [p for p in faults if round(p.hole.diameter or 0.0, 6) == size]
        yield _draft(context, alike[0], tuple(p.hole.id for p in alike))


def _is_wrong(context: Context, one: Pass) -> bool:
    wanted = one.hole.diameter
    if one.hole.top_diameter is not None:
        return one.diameter < one.hole.top_diameter - LENGTH and one.hole.id in unfinished(context)
    if wanted is None or not makes_cylinder(one.cut) or thread_of(context, one.hole) is not None:
        return False
    slack = context.limit("hole_diameter_difference")
    if one.diameter > wanted + slack:
        return True
    return one.diameter < wanted - slack and _stays_small(context, one, wanted - slack)


def _stays_small(context: Context, one: Pass, least: float) -> bool:
    """No step brings the hole to size, metal is left in it, and this is the last step that could have."""
    others = passes_at(context, one.hole)
    if any(p.diameter >= least for p in others) or one.hole.id not in unfinished(context):
        return False
    return others[-1].cut is one.cut


def _draft(context: Context, one: Pass, features: tuple[str, ...]) -> Draft:
    wanted = one.hole.diameter or 0.0
    over = "too large" if one.diameter > wanted else "too small, and no later step brings it to size"
    return Draft(
        message=f"{sentence(tool_word(one.cut))} makes ø {context.text(one.diameter)} where the part has "
        f"ø {context.text(wanted)}: {over}.",
        features=features,
        measured=one.diameter,
        limit=wanted,
        unit="mm",
        at=one.at,
        remedy=remedies.tool_diameter(context, one.stage, one.cut, wanted),
    )
