"""Faults: one change each of the sound plan of ``tests.support.block``, and where it must be found."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, field

from tests.support.block import Json, step_of, swap, tool_of

Place = tuple[str, str | None, str | None]


@dataclass(frozen=True)
class Fault:
    """One change of the sound plan, where it must be found, and what follows from it."""

    name: str
    change: Callable[[Json], object]
    found: Place
    then: set[Place] = field(default_factory=set)


def _set(path: Callable[[Json], Json], **values: object) -> Callable[[Json], object]:
    return lambda plan: path(plan).update(copy.deepcopy(values))


def _step(id: str, setup: int = 0, **values: object) -> Callable[[Json], object]:
    return _set(lambda plan: step_of(plan, id, setup), **values)


def _tool(id: str, **values: object) -> Callable[[Json], object]:
    return _set(lambda plan: tool_of(plan, id), **values)


def _vise(setup: int = 0, **values: object) -> Callable[[Json], object]:
    return _set(lambda plan: plan["setups"][setup]["workholding"], **values)


def _other_tool(step: str, tool: Json) -> Callable[[Json], object]:
    def change(plan: Json) -> None:
        plan["tools"].append(tool)
        step_of(plan, step)["tool"] = tool["id"]

    return change


def _drop(id: str) -> Callable[[Json], object]:
    return _step(id, enabled=False)


def _add(setup: int, step: Json) -> Callable[[Json], object]:
    return lambda plan: plan["setups"][setup]["workingsteps"].append(step)


def _chamfer_first(plan: Json) -> None:
    steps = plan["setups"][0]["workingsteps"]
    steps.insert(0, steps.pop())


def _twice(plan: Json) -> None:
    steps = plan["setups"][0]["workingsteps"]
    steps.insert(4, {**step_of(plan, "40"), "id": "45"})


BULL = {"id": "BN", "type": "bullnose_endmill", "DC": 6, "RE": 1, "APMX": 12, "LU": 14, "stickout": 30}
HEAVY = {"spindle_speed": 3000, "feed_per_tooth": 0.3, "axial_cutting_depth": 30, "radial_cutting_depth": 12}
POCKET_BELOW = {
    "id": "20",
    "operation": "bottom_and_side_finish_milling",
    "tool": "EM6",
    "features": [{"class": "closed_pocket"}],
}
BAR = {"cylinder": {"diameter": 90, "from": [30, 20, -10], "to": [30, 20, 22]}}

FAULTS = [
    Fault("pocket from below", _add(1, POCKET_BELOW), ("access.hidden", "S2", "20")),
    Fault(
        "cutter larger than the corner",
        _step("40", tool="EM12"),
        ("fit.corner-radius", "S1", "40"),
        {("left.stock", "S1", "40")},
    ),
    Fault(
        "bull nose on a sharp floor",
        _other_tool("40", BULL),
        ("fit.floor-radius", "S1", "40"),
        {("left.stock", "S1", "40")},
    ),
    Fault(
        "cutter wider than the slot",
        _step("50", tool="EM12"),
        ("fit.too-narrow", "S1", "50"),
        {("left.stock", "S1", "50")},
    ),
    Fault("drill too large", _tool("D66", DC=6.8), ("fit.hole-diameter", "S1", "70")),
    Fault("drill too small", _tool("D66", DC=6.4), ("fit.hole-diameter", "S1", "70"), {("left.stock", "S1", "70")}),
    Fault("reamer too large", _tool("R10", DC=10.2), ("fit.hole-diameter", "S1", "90")),
    Fault("tap drill too large", _tool("D5", DC=5.3), ("fit.tap-drill", "S1", "110")),
    Fault("tap drill too small", _tool("D5", DC=4.8), ("fit.tap-drill", "S1", "110")),
    Fault("other thread", _tool("M6", thread="M8"), ("fit.tap-drill", "S1", "120")),
    Fault("other point", _tool("D8", SIG=140), ("fit.bottom", "S1", "100")),
    Fault(
        "only the point comes out",
        _step("70", bottom_z=-21, overcut_length=0),
        ("depth.short", "S1", "70"),
        {("left.stock", "S1", "70")},
    ),
    Fault("pocket too shallow", _step("40", bottom_z=-7.5), ("depth.short", "S1", "40"), {("left.stock", "S1", "40")}),
    Fault(
        "drill too short for the reamer", _step("80", cutting_depth=12, overcut_length=0), ("depth.short", "S1", "80")
    ),
    Fault("into the parallels", _step("70", overcut_length=12), ("depth.breakout", "S1", "70")),
    Fault("thread too deep", _step("120", cutting_depth=13.5), ("depth.thread", "S1", "120")),
    Fault("pocket too deep", _step("40", bottom_z=-8.5), ("cut.gouge", "S1", "40")),
    Fault("blind hole too deep", _step("100", cutting_depth=13), ("cut.gouge", "S1", "100")),
    Fault("tapped hole too deep", _step("110", cutting_depth=15), ("cut.gouge", "S1", "110")),
    Fault("allowance with the wrong sign", _step("40", allowance_side=-0.2), ("cut.gouge", "S1", "40")),
    Fault("floor with the wrong sign", _step("40", allowance_bottom=-0.2), ("cut.gouge", "S1", "40")),
    Fault("profile into the jaws", _step("20", bottom_z=-25.5), ("cut.workholding", "S1", "20")),
    Fault("a pass too many", _twice, ("cut.nothing", "S1", "45")),
    Fault("two millimetres of grip", _vise(jaw_height=32), ("hold.grip", "S1", None)),
    Fault("round bar in plain jaws", lambda p: p["workpiece"].update(rawpiece=BAR), ("hold.faces", "S1", None)),
    Fault("vise too small", _vise(max_opening=40), ("hold.opening", "S1", None)),
    Fault("too heavy a cut", _step("20", technology=HEAVY), ("hold.slip", "S1", "20")),
    Fault(
        "the grip milled away",
        _step("20", bottom_z=-29),
        ("hold.released", "S1", "20"),
        {("cut.workholding", "S1", "20")},
    ),
    Fault(
        "zero below the carrier",
        lambda p: p["setups"][1]["origin"].update(location=[0, 40, -12]),
        ("datum.absent", "S2", None),
    ),
    Fault("tap before drill", lambda p: swap(p, "110", "120"), ("order.sequence", "S1", "120")),
    Fault("reamer before drill", lambda p: swap(p, "80", "90"), ("order.sequence", "S1", "90")),
    Fault("finish before rough", lambda p: swap(p, "30", "40"), ("order.sequence", "S1", "40")),
    Fault("drill before spot", lambda p: swap(p, "60", "70"), ("order.sequence", "S1", "70")),
    Fault("chamfer before its faces", _chamfer_first, ("order.sequence", "S1", "130")),
    Fault(
        "walls below the shop's limit",
        lambda p: p.update(policy={"limits": {"least_wall_thickness": 1.8}}),
        ("wall.thin", "S1", "70"),
    ),
    Fault("slot forgotten", _drop("50"), ("left.feature", None, None), {("left.stock", None, None)}),
    Fault("pocket only roughed", _drop("40"), ("left.feature", "S1", "30"), {("left.stock", "S1", "30")}),
    Fault(
        "allowance kept", _step("40", allowance_side=0.2), ("left.stock", "S1", "40"), {("left.feature", "S1", "40")}
    ),
    Fault("short table", lambda p: p.update(machine={"travel": [40, 400, 400]}), ("machine.travel", "S1", None)),
    Fault(
        "slow spindle",
        lambda p: (_step("20", technology={"spindle_speed": 20000})(p), p.update(machine={"max_spindle_speed": 12000})),
        ("machine.speed", "S1", "20"),
    ),
]
