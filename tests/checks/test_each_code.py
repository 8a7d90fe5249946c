"""Each code: the sound plan, made faulty by one change, is found with that code, setup and step, and nothing else.

``Fault.then`` names the true consequences of a fault: metal that stays, or that is missing, because of it. A remedy
that gives a value mends what it was given for: set it in the plan, and the finding is gone.
"""

from __future__ import annotations

import json
from functools import cache

import pytest

from schemas.finding import Finding
from tests.support.block import Json, places, sound, told
from tests.support.faults import FAULTS, Fault
from tests.support.plans import applied

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


def _faulty(fault: Fault) -> Json:
    plan = sound()
    fault.change(plan)
    return plan


@cache
def _of_text(plan: str) -> tuple[Finding, ...]:
    return tuple(told(json.loads(plan)))


def _told(plan: Json) -> list[Finding]:
    """What a plan is told, worked out once: mended plans are often the sound one."""
    return list(_of_text(json.dumps(plan, sort_keys=True)))


def test_the_sound_plan_has_nothing_but_notes() -> None:
    assert _told(sound()) == []


@pytest.mark.parametrize("fault", FAULTS, ids=[f.name for f in FAULTS])
def test_one_change_is_found_and_nothing_else(fault: Fault) -> None:
    found = _told(_faulty(fault))
    assert fault.found in places(found)
    assert places(found) - {fault.found} <= fault.then, [f.message for f in found]


@pytest.mark.parametrize("fault", [f for f in FAULTS if f.name in MENDING], ids=lambda f: f.name)
def test_the_value_mends_it(fault: Fault) -> None:
    plan = _faulty(fault)
    for _ in range(3):  # two holes over two parallels are two findings, each with its own remedy
        found = [f for f in _told(plan) if (f.code, f.setup, f.workingstep) == fault.found]
        if not found:
            break
        plan = applied(plan, found[0].remedy)
    assert _told(plan) == []
