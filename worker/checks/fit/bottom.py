"""fit.bottom: the drill's point or the cutter leaves another bottom than the part's."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.plan import DRILLING
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.holes import Pass, passes_at, passes_of, sentence, tap_of, tool_word, under_thread
from worker.stage.model import Cut, Stage

NEAR = 0.8
"""A pass makes the bottom when it is at least this share of the hole's diameter (a pilot does not)."""


@rule(
    "fit.bottom",
    scope="cut",
    why="Where a screw, pin or seal stands on the bottom, its shape matters; elsewhere it tells of a mixed-up tool.",
    reference="ISO 14649-10 bottom_condition of a round_hole against ISO 13399 SIG and RE",
    limits=(
        Limit(
            "point_angle_difference",
            2.5,
            "deg",
            "common practice: 118 degree points are drawn with 120 degrees",
        ),
    ),
    because_of=("fit.hole-diameter",),
)
def bottom(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Told at the last step that makes a blind hole's bottom, when none of its steps makes the right one."""
    if not (cut.step.operation in DRILLING or cut.tool.type in ("counterbore", "endmill", "ballnose_endmill")):
        yield Skip("the step makes no bottom of a hole")
        return
    for one in passes_of(context, stage, cut):
        if one.hole.bottom in (None, "through", "general"):
            continue
        makers = [p for p in _passes(context, one.hole) if _makes_bottom(p)]
        if not makers or makers[-1].cut is not cut or any(_right(context, p) for p in makers):
            continue
        yield _draft(context, one)


def _passes(context: Context, hole: Feature) -> tuple[Pass, ...]:
    tap = tap_of(context, hole)
    return under_thread(context, tap) if tap else passes_at(context, hole)


def _makes_bottom(one: Pass) -> bool:
    makes = one.cut.step.operation in DRILLING or one.cut.tool.type in ("counterbore", "endmill", "ballnose_endmill")
    return makes and one.diameter >= NEAR * (one.hole.diameter or 0.0)


def _right(context: Context, one: Pass) -> bool:
    hole, tool = one.hole, one.cut.tool
    half = tool.flank_half_angle if tool.type == "twist_drill" else None
    angle = 180.0 if half is None else 2 * half
    if hole.bottom == "spherical":
        return tool.type == "ballnose_endmill"
    if hole.bottom == "conical":
        off = abs(angle - (hole.tip_angle or 0.0))
        return tool.corner_radius <= LENGTH and off <= context.limit("point_angle_difference")
    return angle == 180.0 and (hole.bottom != "flat" or tool.corner_radius <= LENGTH)


def _draft(context: Context, one: Pass) -> Draft:
    hole, tool = one.hole, one.cut.tool
    half = tool.flank_half_angle if tool.type == "twist_drill" else None
    left = "a flat bottom" if half is None else f"a cone of {2 * half:g} degrees"
    other = (hole.bottom or "another").replace("_", " ")
    has = f"a cone of {hole.tip_angle:g} degrees" if hole.tip_angle is not None else f"a {other} bottom"
    conical = half is not None and hole.tip_angle is not None
    return Draft(
        message=f"{sentence(tool_word(one.cut))} leaves {left}; {hole.id} has {has}.",
        features=(hole.id,),
        measured=2 * half if conical and half is not None else None,
        limit=hole.tip_angle if conical else None,
        unit="deg" if conical else None,
        at=hole.placement.to_world((0.0, 0.0, -(hole.depth or 0.0))),
        remedy=_remedy(context, one),
    )


def _remedy(context: Context, one: Pass) -> Remedy:
    hole = one.hole
    if hole.bottom == "conical" and hole.tip_angle is not None and one.cut.tool.type == "twist_drill":
        pointer = context.of_tool(one.cut.tool, "SIG")
        return Remedy(
            text=f"Use a drill with a point of {hole.tip_angle:g} degrees.",
            pointer=pointer,
            value=round(hole.tip_angle, 3),
            unit="deg",
        )
    size = context.text(hole.diameter or 0.0)
    text = f"Finish the bottom with a square end mill or counterbore of at most ø {size} after this step."
    return Remedy(text=text, pointer=context.of_step(one.stage, one.cut, "tool"))
