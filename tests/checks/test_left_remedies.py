"""What mends metal that is left: the step that is switched off, else a setup whose axis sees the feature."""

from __future__ import annotations

import pytest

from tests.support.block import Json, sound, step_of, told
from tests.support.plans import applied


@pytest.mark.parametrize(("step", "code"), [("50", "left.stock"), ("50", "left.feature"), ("40", "left.stock")])
def test_a_step_that_is_switched_off_is_switched_on_again(step: str, code: str) -> None:
    plan = sound()
    step_of(plan, step)["enabled"] = False
    found = next(f for f in told(plan) if f.code == code)
    assert found.remedy and found.remedy.pointer
    assert found.remedy.pointer.endswith("/enabled") and found.remedy.value is True
    assert told(applied(plan, found.remedy)) == []


def _without(step: str) -> Json:
    plan = sound()
    steps = plan["setups"][0]["workingsteps"]
    steps.remove(step_of(plan, step))
    return plan


def test_a_step_that_is_not_there_is_added_where_the_axis_sees_it() -> None:
    found = {f.code: f.remedy for f in told(_without("50"))}
    for code in ("left.stock", "left.feature"):
        remedy = found[code]
        assert remedy and remedy.pointer == "/setups/0/workingsteps" and "S1" in remedy.text
