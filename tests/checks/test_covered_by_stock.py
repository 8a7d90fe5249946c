"""A reamer that comes before the face over its hole: told, and gone once the order is right."""

from __future__ import annotations

from dataclasses import replace

from schemas.finding import Finding
from tests.support.block import Json, context_of, sound, step_of
from worker.checks.run import run_checks
from worker.reach import reach_of


def _drilled_from_below(*steps: str) -> Json:
    """The 10 mm hole is drilled from below up to the part's top at z = 20; 4 mm of stock stand over it."""
    plan = sound()
    first, last = plan["setups"]
    hole = step_of(plan, "90")["features"]
    drill = {"id": "20", "operation": "drilling", "tool": "D98", "features": hole}
    from_above = {id: step_of(plan, id) for id in steps}
    plan["setups"] = [
        {**last, "id": "A", "workingsteps": [drill]},
        {**first, "id": "B", "as_is": "carried", "workingsteps": [from_above[id] for id in steps]},
    ]
    plan["workpiece"]["rawpiece"] = {"box": {"min": [-2, -2, 0], "max": [62, 42, 24]}}
    return plan


def _told(plan: Json) -> list[Finding]:
    context = context_of(plan)
    reach = {(s.setup.id, id): found for s in context.stages for id, found in reach_of(s, context.part).items()}
    return [f for f in run_checks(replace(context, reach=reach))[0] if f.code == "access.covered"]


def test_a_reamer_before_the_face_over_its_hole() -> None:
    found = _told(_drilled_from_below("90", "10"))
    assert [(f.code, f.setup, f.workingstep) for f in found] == [("access.covered", "B", "90")]
    assert found[0].remedy and "behind step 10" in found[0].remedy.text


def test_faced_first_it_is_sound() -> None:
    assert _told(_drilled_from_below("10", "90")) == []
