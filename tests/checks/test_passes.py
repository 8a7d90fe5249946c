"""Which steps work at a hole: looked up by hole, told in the order of machining."""

from __future__ import annotations

from dataclasses import replace

from tests.support.block import Json, as_step, context_of, one_setup, solid_block
from worker.checks.holes import all_passes, passes_in, passes_of
from worker.kernel import boolean
from worker.kernel import primitives as solid

TOOLS: tuple[Json, ...] = (
    {"id": "D6", "type": "twist_drill", "DC": 6.6, "SIG": 118, "LU": 60, "stickout": 70},
    {"id": "CB", "type": "counterbore", "DC": 11, "LU": 20, "stickout": 40},
    {"id": "SPOT", "type": "spotdrill", "DC": 6, "SIG": 90, "LU": 12, "stickout": 35},
)


def _step(id: str, operation: str, tool: str, **feature: float) -> Json:
    return {"id": id, "operation": operation, "tool": tool, "features": [{"class": "round_hole", **feature}]}


def test_passes_of_a_compound_come_in_the_order_of_machining_whatever_is_asked_first() -> None:
    part = as_step(
        boolean.cut(
            solid_block(),
            [solid.cylinder((50, 30, -1), (50, 30, 21), 6.6), solid.cylinder((50, 30, 14), (50, 30, 21), 11)],
        )
    )
    steps = [_step("10", "center_drilling", "SPOT", diameter=6.6), _step("20", "counter_sinking", "CB", diameter=11),
             _step("30", "drilling", "D6", diameter=6.6)]  # fmt: skip
    context = context_of(one_setup(steps, *TOOLS), part)
    holes = {round(f.diameter or 0.0, 3): f.id for f in context.part.features if f.class_ == "round_hole"}
    wide, narrow = holes[11.0], holes[6.6]
    for ids in ((wide, narrow), (narrow, wide)):
        assert [p.cut.step.id for p in passes_in(context, ids)] == ["10", "20", "30"]
    assert [p.cut.step.id for p in passes_in(context, (narrow,))] == ["10", "30"]
    stage = context.stages[0]
    assert [p.hole.id for p in passes_of(context, stage, stage.cuts[1])] == [wide]
    assert passes_in(context, ()) == passes_in(context, ("no such",)) == ()
    shorter = replace(context, stages=(replace(stage, cuts=stage.cuts[:2]),))
    assert [p.cut.step.id for p in all_passes(shorter)] == ["10", "20"]
