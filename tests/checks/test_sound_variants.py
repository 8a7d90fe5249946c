"""What a machinist finds sound is told no error and no warning: a false alarm is a defect as much as a missed fault."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.support.block import BLIND, FOUR, POCKET, PROFILE, REAMED, TAPPED, Json, sound, step_of, told, tool_of


def _insert(before: str, *steps: Json) -> Callable[[Json], object]:
    def change(plan: Json) -> None:
        found = plan["setups"][0]["workingsteps"]
        at = next(i for i, s in enumerate(found) if s["id"] == before)
        found[at:at] = list(steps)

    return change


def _with_tool(tool: Json, change: Callable[[Json], object]) -> Callable[[Json], object]:
    def both(plan: Json) -> None:
        plan["tools"].append(tool)
        change(plan)

    return both


def _step(id: str, operation: str, tool: str, features: list[Json], **keys: object) -> Json:
    return {"id": id, "operation": operation, "tool": tool, "features": features, **keys}


D4 = {"id": "D4", "type": "twist_drill", "DC": 4, "SIG": 118, "LU": 50, "stickout": 60}
EM4 = {"id": "EM4", "type": "endmill", "DC": 4, "APMX": 25, "LU": 30, "stickout": 40}
BOR = {"id": "BOR", "type": "rotating_boring_cutting_tool", "DC": 10, "LU": 40, "stickout": 60}


def _bored(plan: Json) -> None:
    plan["tools"].append(BOR)
    step_of(plan, "90").update(operation="boring", tool="BOR")


def _milled_hole(plan: Json) -> None:
    """Pilot drill, then the 10 mm hole is milled out instead of reamed."""
    plan["tools"].append(EM4)
    step_of(plan, "90").update(operation="bottom_and_side_finish_milling", tool="EM4")


def _two_cuts_deep(plan: Json) -> None:
    """The pocket in two depths, the second step takes what the first leaves."""
    plan["setups"][0]["workingsteps"].insert(
        3, _step("35", "bottom_and_side_finish_milling", "EM6", POCKET, bottom_z=-4)
    )


def _half_from_below(plan: Json) -> None:
    """The ø6.6 holes half way from each side."""
    step_of(plan, "70").update(bottom_z=-13, overcut_length=0)
    spots = [{"class": "round_hole", "diameter": 6.6, "count": 2}]
    plan["setups"][1]["workingsteps"] += [
        _step("20", "center_drilling", "SP", spots),
        _step("30", "drilling", "D66", spots, cutting_depth=12),
    ]


def _vise(plan: Json) -> Json:
    found: Json = plan["setups"][0]["workholding"]
    return found


ROUGH_PROFILE = _step("15", "side_rough_milling", "EM12", PROFILE, allowance_side=0.3, bottom_z=-21)
VARIANTS: dict[str, Callable[[Json], object]] = {
    "pilot drill first": _with_tool(D4, _insert("70", _step("65", "drilling", "D4", FOUR, overcut_length=1))),
    "pilot in the tapped hole": _with_tool(D4, _insert("110", _step("105", "drilling", "D4", TAPPED))),
    "pilot in the blind hole": _with_tool(D4, _insert("100", _step("95", "drilling", "D4", BLIND))),
    "spot in the reamed hole": _insert("80", _step("75", "center_drilling", "SP", REAMED)),
    "bored instead of reamed": _bored,
    "milled instead of reamed": _milled_hole,
    "pocket in two depths": _two_cuts_deep,
    "holes half from each side": _half_from_below,
    "tap drill of 5.1": lambda p: tool_of(p, "D5").update(DC=5.1),
    "drill of 9.7 before the reamer": lambda p: tool_of(p, "D98").update(DC=9.7),
    "120 degree point": lambda p: tool_of(p, "D8").update(SIG=120),
    "thread to its last sound depth": lambda p: step_of(p, "120").update(cutting_depth=12),
    "tap without a stated depth": lambda p: step_of(p, "120").pop("cutting_depth"),
    "profile to its exact bottom": lambda p: step_of(p, "20").pop("bottom_z"),
    "profile roughed first": _insert(
        "20", _step("15", "side_rough_milling", "EM12", PROFILE, allowance_side=0.3, bottom_z=-21)
    ),
    "zero on the axis of a bore": lambda p: p["setups"][1]["origin"].update(location=[39, 20, -15]),
    "zero on the stock's own box": lambda p: p["setups"][1]["origin"].update(
        location={"on": "as_is", "at": ["min", "mid", "max"]}
    ),
    "deeper overcut, still over air": lambda p: step_of(p, "80").update(overcut_length=6),
    "rounded inch drill": lambda p: tool_of(p, "D66").update(DC=6.604),
    "serrated jaws with little grip": lambda p: p["setups"][0]["workholding"].update(
        jaw_height=32, jaw_surface="serrated"
    ),
    "a step that is switched off": _insert("50", {**_step("45", "reaming", "R10", TAPPED), "enabled": False}),
}


@pytest.mark.parametrize("name", VARIANTS)
def test_nothing_is_told(name: str) -> None:
    plan = sound()
    VARIANTS[name](plan)
    found = told(plan)
    assert found == [], [(f.code, f.setup, f.workingstep, f.message) for f in found]
