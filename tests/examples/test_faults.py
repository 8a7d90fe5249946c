"""One change makes a sound plan faulty: the fault is found with its code, setup and step, and nothing else is told.

What a change adds is what the faulty plan's findings have over those of the sound plan. Plans are cut off after the
faulty setup, so that each case is short; what later setups would have finished is left, which counts against no fault
but that of metal left: there the sound plan is cut off as well.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest

from examples.shapes import box
from schemas.finding import CATALOGUE
from tests.support.examples import checked, document, files, part_bytes
from tests.support.kept import kept
from tests.support.trial import step_bytes
from worker.pipeline import check_plan

Json = dict[str, Any]
Told = tuple[str, str | None, str | None]


@dataclass(frozen=True)
class Fault:
    """``change`` makes the plan of ``example`` faulty in ``setup`` at ``step``; ``also`` holds codes that follow."""

    code: str
    example: str
    setup: str
    step: str | None
    change: Callable[[Json], object]
    also: frozenset[str] = frozenset()
    files: dict[str, Callable[[], bytes]] = field(default_factory=dict)


def setup_of(plan: Json, id: str) -> Json:
    return next(s for s in plan["setups"] if s["id"] == id)


def step_of(plan: Json, setup: str, id: str) -> Json:
    return next(s for s in setup_of(plan, setup)["workingsteps"] if s["id"] == id)


def tool_of(plan: Json, id: str) -> Json:
    return next(t for t in plan["tools"] if t["id"] == id)


def step(setup: str, id: str, **values: Any) -> Callable[[Json], object]:
    return lambda plan: step_of(plan, setup, id).update(values)


def tool(id: str, **values: Any) -> Callable[[Json], object]:
    return lambda plan: tool_of(plan, id).update(values)


def own_tool(setup: str, id: str, **values: Any) -> Callable[[Json], object]:
    """The step's tool, changed for this step alone: what others do with it need not be worked out anew."""

    def change(plan: Json) -> None:
        found = step_of(plan, setup, id)
        plan["tools"].append(tool_of(plan, found["tool"]) | {"id": "OWN"} | values)
        found.update(tool="OWN")

    return change


def hold(setup: str, **values: Any) -> Callable[[Json], object]:
    return lambda plan: setup_of(plan, setup)["workholding"].update(values)


def element(setup: str, index: int, **values: Any) -> Callable[[Json], object]:
    return lambda plan: setup_of(plan, setup)["workholding"]["elements"][index].update(values)


def no_elements(setup: str, *indices: int) -> Callable[[Json], object]:
    def change(plan: Json) -> None:
        elements = setup_of(plan, setup)["workholding"]["elements"]
        for i in sorted(indices, reverse=True):
            del elements[i]

    return change


def disable(setup: str, *ids: str) -> Callable[[Json], object]:
    return lambda plan: [step_of(plan, setup, id).update(enabled=False) for id in ids]


def before(setup: str, first: str, other: str) -> Callable[[Json], object]:
    """Moves one step in front of another."""

    def change(plan: Json) -> None:
        steps = setup_of(plan, setup)["workingsteps"]
        moved = step_of(plan, setup, first)
        steps.remove(moved)
        steps.insert(steps.index(step_of(plan, setup, other)), moved)

    return change


def added(setup: str, like: tuple[str, str], id: str, **values: Any) -> Callable[[Json], object]:
    """A further step, like one that is there."""
    return lambda plan: setup_of(plan, setup)["workingsteps"].append(step_of(plan, *like) | {"id": id} | values)


LEFT = frozenset({"left.feature", "left.stock"})
VALVE, PLATE, FLANGE, SPINDLE = "valve_body", "sensor_plate", "pump_flange_inch", "spindle_nose"
HARD_JAWS: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 10, "max_opening": 160}

FAULTS = [
    Fault("access.hidden", PLATE, "S2", "70", added("S2", ("S1", "20"), "70"), frozenset({"cut.nothing"})),
    Fault(
        "access.covered",
        PLATE,
        "S1",
        "40",
        element("S1", 4, box={"min": [30, -25, 0], "max": [50, 40, 12]}),
        LEFT | {"cut.workholding", "depth.short", "cut.nothing", "order.entry", "reach.stickout"},
    ),
    Fault("reach.stickout", VALVE, "S1", "60", tool("T4", stickout=10)),
    Fault("reach.shank", VALVE, "S1", "40", tool("T2", DN=17, APMX=20), frozenset({"cut.gouge"})),
    Fault("reach.length", VALVE, "S1", "130", tool("T9", LU=30), frozenset({"reach.shank"})),
    Fault("fit.corner-radius", VALVE, "S1", "60", step("S1", "60", tool="T2"), LEFT),
    Fault("fit.floor-radius", PLATE, "S1", "20", own_tool("S1", "20", type="bullnose_endmill", RE=1), LEFT),
    Fault(
        "fit.too-narrow", PLATE, "S2", "40", step("S2", "40", tool="T1"), LEFT | {"cut.nothing", "fit.corner-radius"}
    ),
    Fault("fit.hole-diameter", PLATE, "S1", "40", tool("T4", DC=6.8), frozenset({"cut.gouge"})),
    Fault("fit.tap-drill", VALVE, "S3", "80", tool("T17", thread="M12x1"), frozenset({"fit.lead"})),
    Fault("fit.lead", VALVE, "S3", "80", step("S3", "80", technology={"feed_per_rev": 1.25})),
    Fault("fit.bottom", VALVE, "S2", "60", tool("T13", SIG=140)),
    Fault("depth.short", PLATE, "S1", "40", step("S1", "40", bottom_z=-10), LEFT),
    Fault("depth.breakout", PLATE, "S1", "40", step("S1", "40", overcut_length=9), frozenset({"cut.workholding"})),
    Fault("depth.thread", VALVE, "S2", "70", step("S2", "70", cutting_depth=13.5)),
    Fault("cut.gouge", PLATE, "S1", "20", step("S1", "20", bottom_z=-6.5), frozenset({"wall.thin"})),
    Fault("cut.gouge", SPINDLE, "S1", "70", tool("T3", DC=14, DMM=14)),
    Fault(
        "cut.workholding", VALVE, "S1", "40", step("S1", "40", bottom_z=-44.5), frozenset({"reach.shank", "hold.grip"})
    ),
    Fault("cut.plunge", PLATE, "S1", "10", tool("T2", type="shouldermill")),
    Fault("fit.pilot", PLATE, "S1", "80", tool("T6", DC=5)),
    Fault("cut.nothing", PLATE, "S1", "100", added("S1", ("S1", "20"), "100")),
    Fault("hold.grip", FLANGE, "S1", None, hold("S1", jaw_height=1.55)),
    Fault(
        "hold.faces",
        SPINDLE,
        "S1",
        None,
        lambda plan: setup_of(plan, "S1").update(workholding=HARD_JAWS),
        frozenset({"hold.grip", "hold.slip"}),
    ),
    Fault("hold.opening", FLANGE, "S1", None, hold("S1", max_opening=3)),
    Fault("hold.support", PLATE, "S1", None, no_elements("S1", 2, 3, 6, 7), frozenset({"hold.slip"})),
    Fault("hold.slip", FLANGE, "S1", "10", hold("S1", clamping_force=400)),
    Fault(
        "hold.released",
        VALVE,
        "S1",
        "30",
        step("S1", "30", bottom_z=-52),
        frozenset(
            {
                "cut.workholding",
                "cut.nothing",
                "reach.shank",
                "reach.length",
                "loose.piece",
                "reach.stickout",
                "hold.grip",
            }
        ),
    ),
    Fault("datum.absent", FLANGE, "S2", None, lambda p: setup_of(p, "S2")["origin"].update(location=[-0.04, -0.04, 0])),
    Fault("order.entry", SPINDLE, "S3", "30", disable("S3", "10", "20")),
    Fault("order.sequence", VALVE, "S2", "70", before("S2", "70", "60"), frozenset({"depth.thread", "cut.nothing"})),
    Fault("wall.thin", PLATE, "S2", "40", lambda p: p.update(policy={"limits": {"least_wall_thickness": 2.5}})),
    Fault("left.feature", FLANGE, "S1", None, disable("S1", "150"), LEFT),
    Fault("left.stock", PLATE, "S2", None, disable("S2", "40"), LEFT),
    Fault("machine.travel", PLATE, "S1", None, lambda p: p["machine"].update(travel=[60, 430, 460])),
    Fault("machine.speed", PLATE, "S1", "20", lambda p: p["machine"].update(max_spindle_speed=10500)),
    Fault(
        "carry.mismatch",
        FLANGE,
        "S2",
        None,
        lambda p: setup_of(p, "S2").update(as_is={"step": "stage"}),
        frozenset({"order.sequence"}),
        files={"stage": lambda: step_bytes(box((-1.5875, -1.5875, -7.9375), (103.1875, 77.7875, 25.4)), "INCH")},
    ),
]


def run(example: str, plan: Json, extra: dict[str, bytes] | None = None) -> list[Any]:
    named = {**files(example), **(extra or {})}
    wanted = json.dumps(plan)
    sent = {name: data for name, data in named.items() if f'"step": "{name}"' in wanted}
    return list(check_plan(part_bytes(example), wanted.encode(), sent, None, kept()).report.findings)


def cut_off(plan: Json, setup: str) -> Json:
    last = next(i for i, s in enumerate(plan["setups"]) if s["id"] == setup)
    return plan | {"setups": plan["setups"][: last + 1]}


def told(findings: list[Any]) -> Counter[Told]:
    return Counter((f.code, f.setup, f.workingstep) for f in findings)


def sound(fault: Fault) -> Counter[Told]:
    """What the sound plan is told anyway."""
    plan = document(fault.example)
    if fault.code in LEFT and plan["setups"][-1]["id"] != fault.setup:
        return told(run(fault.example, cut_off(plan, fault.setup)))
    return told(checked(fault.example).report.findings)


@pytest.mark.parametrize("fault", FAULTS, ids=[f"{f.code}-{f.example}" for f in FAULTS])
def test_one_change_is_found_and_nothing_else_told(fault: Fault) -> None:
    plan = document(fault.example)
    fault.change(plan)
    findings = run(fault.example, cut_off(plan, fault.setup), {n: make() for n, make in fault.files.items()})
    new = told(findings) - sound(fault)
    where = [(s, w) for code, s, w in new if code == fault.code]
    assert where, sorted(new, key=str)
    if fault.code not in LEFT:
        assert (fault.setup, fault.step) in where, where
    allowed = fault.also | {fault.code, "left.feature", "left.stock"}
    assert {code for code, _, _ in new} <= allowed, sorted(new, key=str)
    mine = next(f for f in findings if f.code == fault.code and (f.setup, f.workingstep) in where)
    assert mine.level == CATALOGUE[fault.code].level
    assert mine.message
    assert mine.remedy is None or mine.remedy.text


def test_the_cases_cover_the_codes_that_a_plan_can_earn() -> None:
    # hold.marked is told of sound plans too; a free piece and a disagreement of the two stocks have tests of their own
    elsewhere = {"hold.marked", "loose.piece", "evidence.disagreement", "rule.failed"}
    assert {f.code for f in FAULTS} | elsewhere == set(CATALOGUE)
