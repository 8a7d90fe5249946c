"""fit.bottom: the drill's point or the cutter leaves another bottom than the part's."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.fit._ends import cone_of, is_right, passes_for, shapes_end, wanted_cone
from worker.checks.holes import Pass, passes_of, sentence, tool_word
from worker.stage.model import Cut, Stage


@rule(
    "fit.bottom",
    scope="cut",
    metal="sweep",
    facets=True,
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
    because_of=("fit.hole-diameter", "fit.floor-radius"),
)
def bottom(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Told at the last step that makes a blind hole's bottom, when none of its steps makes the right one."""
    passes = [p for p in passes_of(context, stage, cut) if shapes_end(p)]
    if not passes:
        yield Skip("the step makes neither the bottom nor the cone of a hole")
        return
    slack = context.limit("point_angle_difference")
    for one in passes:
        makers = [p for p in passes_for(context, one.hole) if shapes_end(p)]
        if makers[-1].cut is cut and not any(is_right(p, slack) for p in makers):
            yield _draft(context, one)


def _draft(context: Context, one: Pass) -> Draft:
    hole = one.hole
    angle, wanted = cone_of(one), wanted_cone(hole)
    left = "a flat bottom" if angle is None else f"a cone of {angle:g} degrees"
    other = (hole.bottom or "another").replace("_", " ")
    has = f"a cone of {wanted:g} degrees" if wanted is not None else f"a {other} bottom"
    both = angle is not None and wanted is not None
    return Draft(
        message=f"{sentence(tool_word(one.cut))} leaves {left}; {hole.id} has {has}.",
        features=(hole.id,),
        measured=angle if both else None,
        limit=wanted if both else None,
        unit="deg" if both else None,
        at=hole.placement.to_world((0.0, 0.0, -(hole.depth or 0.0))),
        remedy=_remedy(context, one),
    )


def _remedy(context: Context, one: Pass) -> Remedy:
    wanted = wanted_cone(one.hole)
    if wanted is not None and cone_of(one) is not None:
        return Remedy(
            text=f"Use a tool with a point of {wanted:g} degrees.",
            pointer=context.of_tool(one.cut.tool, "SIG"),
            value=round(wanted, 3),
            unit="deg",
        )
    size = context.text(one.hole.diameter or 0.0)
    text = f"Finish the bottom with a square end mill or counterbore of at most ø {size} after this step."
    return Remedy(text=text, pointer=context.of_step(one.stage, one.cut, "tool"))
