"""A plate cut out of a larger one: what it stood on may have stood under the rest (statics; contract, workholding)."""

from __future__ import annotations

import pytest

from schemas.finding import Finding
from tests.support.block import Json, as_step, told
from tests.support.plate import on_plate
from worker.kernel import boolean
from worker.kernel import primitives as solid

DRILLED = [solid.cylinder((x, 25, -1), (x, 25, 11), 6) for x in (20, 60)]
PART = as_step(boolean.cut(solid.box((0, 0, 0), (80, 50, 10)), DRILLED))
RAW = as_step(boolean.cut(solid.box((-20, -20, 0), (100, 70, 10)), DRILLED))
BASE: Json = {"type": "plate", "name": "base", "box": {"min": [-60, -60, -60], "max": [140, 110, -30]}}
JACKS = [
    {"type": "jack", "name": f"jack {x} {y}", "cylinder": {"diameter": 10, "from": [x, y, -30], "to": [x, y, -10]}}
    for x in (-14, 94)
    for y in (-14, 64)
]


def _bolts() -> list[Json]:
    """Two bolts through the part's own holes, with their heads."""
    return [
        {"type": "bolt", "cylinder": {"diameter": wide, "from": [x, 25, low], "to": [x, 25, high]}, "force": 5000}
        for x in (20, 60)
        for wide, low, high in ((5.9, -60, 0), (10, 0, 6))
    ]


def _pad(x0: float, x1: float) -> Json:
    return {"type": "jack", "name": "pad", "box": {"min": [x0, 15, -30], "max": [x1, 35, -10]}}


def _freed(*under: Json, deep: float = -10) -> list[Finding]:
    """What is told where the outline is cut down to a height; the stock is 10 thick, its top at 0."""
    plan = on_plate()
    plan["workpiece"]["rawpiece"] = {"step": "RAW"}
    setup = plan["setups"][0]
    setup["workholding"]["elements"] = [BASE, *under, *_bolts()]
    outline: Json = {"id": "10", "operation": "side_finish_milling", "features": [{"class": "profile_feature"}]}
    setup["workingsteps"] = [{**outline, "tool": "EM8", "bottom_z": deep}]
    return [f for f in told(plan, PART, {"RAW": RAW}) if f.code.startswith("hold.")]


def test_jacks_under_the_rest_carry_nothing_once_it_is_gone() -> None:
    (found,) = _freed(*JACKS)
    assert (found.code, found.level, found.workingstep, found.measured) == ("hold.released", "error", "10", 0.0)
    assert "stands on nothing" in found.message


def test_jacks_under_what_stays_carry_it_on() -> None:
    assert _freed(*JACKS, _pad(10, 70)) == []


def test_the_rest_carries_on_while_a_skin_is_left() -> None:
    assert [f for f in _freed(*JACKS, deep=-9.5) if "stands on nothing" in f.message] == []


@pytest.mark.parametrize(("end", "over"), [(30.0, 10.0), (39.0, 1.0), (41.0, None)])
def test_the_centre_of_what_stays_lies_over_what_carries_it(end: float, over: float | None) -> None:
    """The part's middle is at x 40; the pad goes from 10 to ``end``, and the jacks carried the rest."""
    found = _freed(*JACKS, _pad(10, end))
    assert [(f.code, f.level, f.measured) for f in found] == (
        [] if over is None else [("hold.released", "warning", pytest.approx(over, abs=1e-3))]
    )
