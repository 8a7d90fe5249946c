"""Taps that come out below a through hole: what lies under it stops them, whatever diameter the model has there."""

from __future__ import annotations

import functools
from typing import Any

import pytest

from schemas.finding import Finding
from tests.support.block import Json, as_step, told
from tests.support.plate import element, on_plate, remove
from worker.kernel import boolean
from worker.kernel import primitives as solid

HOLES = [{"class": "round_hole", "count": 2}]


@functools.cache
def tapped(diameter: float) -> bytes:
    """80 x 50 x 10 with two through holes: 5 is the minor diameter of M6 x 1, 6 its major (ISO 261, ISO 724)."""
    holes = [solid.cylinder((x, 25, -1), (x, 25, 11), diameter) for x in (20, 60)]
    return as_step(boolean.cut(solid.box((0, 0, 0), (80, 50, 10)), holes))


def on_base(gap: float, **keys: Any) -> Json:
    """Drilled over the jacks in a first setup, tapped in a second over a base plate that much below the stock."""
    plan = on_plate()
    plan["tools"] = [
        {"id": "D5", "type": "twist_drill", "DC": 5, "SIG": 118, "LU": 40, "stickout": 60},
        {"id": "M6", "type": "tapping_cutting_tool", "thread": "M6", "LU": 25, "stickout": 45},
    ]
    drilled, over = plan["setups"][0], on_plate()
    if gap == 0:
        remove(over, *(e["name"] for e in over["setups"][0]["workholding"]["elements"] if e["type"] == "jack"))
    element(over, "base")["box"]["max"][2] = -10 - gap
    second = {**over["setups"][0], "id": "S2"}
    drilled["workingsteps"] = [
        {"id": "10", "operation": "drilling", "tool": "D5", "features": HOLES, "overcut_length": 1}
    ]
    second["workingsteps"] = [{"id": "20", "operation": "tapping", "tool": "M6", "features": HOLES, **keys}]
    plan["setups"].append(second)
    return plan


def comes_out(plan: Json, diameter: float) -> list[Finding]:
    return [f for f in told(plan, tapped(diameter)) if f.code == "depth.breakout"]


@pytest.mark.parametrize("diameter", [5.0, 6.0])
@pytest.mark.parametrize(
    ("gap", "keys", "into"),
    [
        (0.0, {"cutting_depth": 12}, 4.0),  # full thread 2 past the hole, two pitches of chamfer (DIN 2197 form C)
        (0.0, {"cutting_depth": 10}, 2.0),
        (0.0, {"bottom_z": -13}, 3.0),  # the tip itself
        (3.0, {"cutting_depth": 10}, None),
        (3.0, {"cutting_depth": 12}, 1.0),
    ],
)
def test_a_tap_goes_its_chamfer_past_the_thread(diameter: float, gap: float, keys: Json, into: float | None) -> None:
    """The stock is 10 thick, its top at 0; the pitch is 1."""
    found = comes_out(on_base(gap, **keys), diameter)
    assert [(f.setup, f.workingstep) for f in found] == ([] if into is None else [("S2", "20")])
    assert [f.measured for f in found] == ([] if into is None else [pytest.approx(into)])


def test_less_depth_mends_it_where_the_thread_goes_as_far_past_the_hole() -> None:
    (found,) = comes_out(on_base(0.0, bottom_z=-13), 5.0)
    assert found.remedy is not None and found.remedy.pointer == "/setups/1/workingsteps/0/bottom_z"
    assert comes_out(on_base(0.0, bottom_z=found.remedy.value), 5.0) == []
    (found,) = comes_out(on_base(0.0, cutting_depth=12), 5.0)  # 4 less would leave 2 of the hole without a thread
    assert found.remedy is not None and found.remedy.pointer == "/setups/1/workholding"
    assert comes_out(on_base(4.0, cutting_depth=12), 5.0) == []  # raised by as much as the remedy says
