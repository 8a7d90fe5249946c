"""What holds the part, in the words of the report."""

from __future__ import annotations

from collections.abc import Mapping

from tests.support.block import Json, context_of, sound
from tests.support.plate import on_plate, plate
from worker.kernel import primitives, stepio
from worker.outline import workholding_words


def _words(plan: Json, part: bytes | None = None, files: Mapping[str, bytes] | None = None) -> str:
    context = context_of(plan, part, files)
    return workholding_words(context.stages[0], context.plan)


def test_a_fixture_counts_its_elements() -> None:
    # By hand, off the fixture's own list.
    assert _words(on_plate(), plate()) == "fixture plate: 1 plate, 4 jacks, 3 locators, 2 clamps"


def test_soft_jaws_hold_on_the_floor_of_their_nest() -> None:
    plan = sound()
    plan["setups"][0]["workholding"].update(jaws="soft", nest_depth=6)
    told = _words(plan)
    assert "soft jaws along" in told and "grip 6 mm, stock on the floor of their nest" in told


def test_given_bodies_are_named() -> None:
    low = stepio.write_step(primitives.box((-20, -20, -60), (80, 60, -30)), "mm", "low")
    plan = sound()
    place = {"location": [0, 0, 0], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]}
    bodies = [{"step": "low", "name": name, "placement": place} for name in ("base", "vee block")]
    plan["setups"][0]["workholding"] = {"type": "bodies", "bodies": bodies}
    assert _words(plan, files={"low": low}) == "given bodies: base, vee block"
