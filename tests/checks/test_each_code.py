"""Each code: the sound plan, made faulty by one change, is found with that code, setup and step, and nothing else.

``Fault.then`` names the true consequences of a fault: metal that stays, or that is missing, because of it.
"""

from __future__ import annotations

import pytest

from tests.support.block import places, sound, told
from tests.support.faults import FAULTS, Fault


def test_the_sound_plan_has_nothing_but_notes() -> None:
    assert told(sound()) == []


@pytest.mark.parametrize("fault", FAULTS, ids=[f.name for f in FAULTS])
def test_one_change_is_found_and_nothing_else(fault: Fault) -> None:
    plan = sound()
    fault.change(plan)
    found = told(plan)
    assert fault.found in places(found)
    assert places(found) - {fault.found} <= fault.then, [f.message for f in found]
