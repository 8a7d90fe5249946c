"""A remedy that gives a value mends what it was given for: set it in the plan, and the finding is gone."""

from __future__ import annotations

import pytest

from schemas.finding import Finding
from tests.support.block import Json, sound, step_of, told
from tests.support.faults import FAULTS, Fault

MENDING = {
    "cutter larger than the corner",
    "bull nose on a sharp floor",
    "cutter wider than the slot",
    "drill too large",
    "drill too small",
    "reamer too large",
    "tap drill too large",
    "tap drill too small",
    "other thread",
    "other point",
    "only the point comes out",
    "pocket too shallow",
    "drill too short for the reamer",
    "into the parallels",
    "thread too deep",
    "pocket too deep",
    "blind hole too deep",
    "tapped hole too deep",
    "allowance with the wrong sign",
    "floor with the wrong sign",
    "profile into the jaws",
    "two millimetres of grip",
    "vise too small",
    "too heavy a cut",
    "the grip milled away",
    "zero below the carrier",
    "allowance kept",
    "slow spindle",
}
"""Faults whose remedy is one value of the plan; the others ask for a step to be added, moved or left out."""


def _set(plan: Json, pointer: str, value: object) -> None:
    *path, last = pointer.strip("/").split("/")
    here = plan
    for key in path:
        here = here[int(key)] if isinstance(here, list) else here[key]
    here[int(last) if isinstance(here, list) else last] = value


def _found(fault: Fault, plan: Json) -> list[Finding]:
    return [f for f in told(plan) if (f.code, f.setup, f.workingstep) == fault.found]


@pytest.mark.parametrize("fault", [f for f in FAULTS if f.name in MENDING], ids=lambda f: f.name)
def test_the_value_mends_it(fault: Fault) -> None:
    plan = sound()
    fault.change(plan)
    for _ in range(3):  # two holes over two parallels are two findings, each with its own remedy
        found = _found(fault, plan)
        if not found:
            break
        remedy = found[0].remedy
        assert remedy is not None and remedy.pointer is not None and remedy.value is not None
        _set(plan, remedy.pointer, remedy.value)
    assert told(plan) == []


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
    _set(plan, first.remedy.pointer, first.remedy.value)
    assert code not in {f.code for f in told(plan)}
