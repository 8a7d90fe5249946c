"""Remedies of workholding that is mended by sizes of its own; others stand with their faults in ``test_each_code``."""

from __future__ import annotations

import pytest

from tests.support.block import sound, step_of, told
from tests.support.plans import applied


@pytest.mark.parametrize(
    ("nest", "jaws", "drilled", "code", "key", "value"),
    [
        (9.5, 36.0, None, "cut.workholding", "nest_depth", 9.0),  # the profile's tip is 9 above the stock's foot
        (8.0, 9.0, -34.0, "depth.breakout", "jaw_height", 12.0),  # the bed lies 1 below the foot, the tip 3 below that
    ],
)
def test_soft_jaws_are_mended_by_their_own_sizes(
    nest: float, jaws: float, drilled: float | None, code: str, key: str, value: float
) -> None:
    """Their top stands ``nest_depth`` above the stock's foot, the bed ``jaw_height`` below that; the foot is at -30."""
    plan = sound()
    plan["setups"][0]["workholding"] |= {
        "jaws": "soft",
        "nest_depth": nest,
        "jaw_height": jaws,
        "parallel_thickness": 1,
    }
    if drilled:
        step_of(plan, "70")["bottom_z"] = drilled
    first = next(f for f in told(plan) if f.code == code)
    assert first.remedy is not None and first.remedy.pointer == f"/setups/0/workholding/{key}"
    assert first.remedy.value == pytest.approx(value)
    assert code not in {f.code for f in told(applied(plan, first.remedy))}
