"""Stock that is carried or stated, pieces that come free, drills that start badly: parts and blanks made for it."""

from __future__ import annotations

import functools

import pytest

from tests.support.block import Json, block, context_of, places, sound, told
from worker.kernel import boolean, measure, stepio
from worker.kernel import primitives as solid


@functools.cache
def stage_file(plus: float = 0.0) -> bytes:
    """What setup S1 of the sound plan leaves, with a lump of ``plus`` mm height on it."""
    left = context_of(sound()).stages[0].to_be
    if plus:
        left = boolean.fuse([left, solid.box((10, 2, 20), (20, 8, 20 + plus))])
    return stepio.write_step(left, "mm", "stage")


def _from_file() -> Json:
    plan = sound()
    plan["setups"][1]["as_is"] = {"step": "stage"}
    return plan


def test_a_stated_stage_that_is_the_carried_one_is_sound() -> None:
    assert told(_from_file(), files={"stage": stage_file()}) == []


def test_a_stated_stage_with_metal_that_is_not_there() -> None:
    found = [f for f in told(_from_file(), files={"stage": stage_file(3.0)}) if f.code == "carry.mismatch"]
    assert [(f.setup, f.workingstep) for f in found] == [("S2", None)]
    assert found[0].measured == pytest.approx(10 * 6 * 3, rel=1e-6)
    assert found[0].remedy is not None and found[0].remedy.value == "carried"


def test_a_blank_that_a_setup_before_has_cut_is_no_longer_there() -> None:
    """More by all that S1 takes: the blank of 64 x 44 x 32 less what S1 leaves."""
    plan = sound()
    plan["setups"][1]["as_is"] = "rawpiece"
    (found,) = (f for f in told(plan) if f.code == "carry.mismatch")
    gone = 64 * 44 * 32 - measure.volume(context_of(sound()).stages[0].to_be)
    assert (found.setup, found.measured) == ("S2", pytest.approx(gone, rel=1e-6))
    assert found.message.startswith("The blank")


@functools.cache
def hooked_blank() -> bytes:
    """The blank of the sound plan with a hook on its side that the profile cut parts from it."""
    main = solid.box((-2, -2, -10), (62, 42, 22))
    bridge = solid.box((62, 10, 5), (70, 30, 12))
    hook = solid.box((65, 10, -8), (70, 30, 6))
    return stepio.write_step(boolean.fuse([main, bridge, hook]), "mm", "blank")


def test_a_hook_comes_free_when_its_bridge_is_cut() -> None:
    plan = sound()
    plan["workpiece"]["rawpiece"] = {"step": "blank"}
    found = told(plan, files={"blank": hooked_blank()})
    assert places(found) == {("loose.piece", "S1", "20")}
    # what stands below the profile's bottom at z = -1: 5 x 20 x 7
    assert found[0].measured == pytest.approx(5 * 20 * 7, rel=1e-6)


@pytest.mark.parametrize(("size", "codes"), [(0.9, []), (1.1, ["loose.piece"])])
def test_a_piece_no_larger_than_a_chip_is_one(size: float, codes: list[str]) -> None:
    """A foot of so much every way under a bridge 0.5 thick beside the blank: the profile's cutter takes the bridge."""
    plan = sound()
    plan["workpiece"]["rawpiece"] = {"step": "blank"}
    step = solid.box((62, 20, -1 - size), (63 + size, 20 + size, 5))
    foot = boolean.cut(step, [solid.box((61, 19, -9), (63, 30, -0.5))])
    blank = boolean.fuse([solid.box((-2, -2, -10), (62, 42, 22)), foot])
    found = told(plan, files={"blank": stepio.write_step(blank, "mm", "blank")})
    assert [f.code for f in found] == codes


def test_the_part_cut_in_two_between_the_jaws_is_released() -> None:
    plan = sound()
    plan["setups"][0]["workholding"]["jaw_axis"] = "X"
    plan["setups"][0]["workingsteps"][4]["bottom_z"] = -31
    found = told(plan)
    assert ("hold.released", "S1", "50") in places(found)
    assert "loose.piece" not in {f.code for f in found}


@functools.cache
def bar() -> bytes:
    """A round bar D40 x 60 along X with a cross hole of 6 mm along Z."""
    body = boolean.cut(solid.cylinder((0, 0, 0), (60, 0, 0), 40), [solid.cylinder((30, 0, -25), (30, 0, 25), 6)])
    return stepio.write_step(body, "mm", "bar")


def _cross_hole(spot: bool) -> Json:
    hole = [{"class": "round_hole", "diameter": 6}]
    steps: list[Json] = [{"id": "20", "operation": "drilling", "tool": "D6", "features": hole, "overcut_length": 3}]
    if spot:
        steps.insert(
            0, {"id": "10", "operation": "center_drilling", "tool": "SP", "features": hole, "cutting_depth": 2}
        )
    return {
        "plan_version": 1,
        "units": "mm",
        "workpiece": {"rawpiece": {"cylinder": {"diameter": 40, "from": [0, 0, 0], "to": [60, 0, 0]}}},
        "tools": [
            {"id": "D6", "type": "twist_drill", "DC": 6, "SIG": 118, "LU": 60, "stickout": 80},
            {"id": "SP", "type": "spotdrill", "DC": 6, "SIG": 90, "LU": 12, "stickout": 40},
        ],
        "setups": [
            {
                "id": "S1",
                "origin": {"location": [30, 0, 0], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
                "workholding": {
                    "type": "vise",
                    "jaw_axis": "Y",
                    "jaw_width": 60,
                    "jaw_height": 40,
                    "jaws": "soft",
                    "nest_depth": 15,
                },
                "workingsteps": steps,
            }
        ],
    }


def test_a_drill_on_a_round_bar_without_a_spot() -> None:
    found = [f for f in told(_cross_hole(spot=False), bar()) if f.code == "order.entry"]
    assert [(f.setup, f.workingstep, f.level) for f in found] == [("S1", "20", "warning")]
    assert found[0].at is not None and found[0].at.part == pytest.approx((30, 0, 20), abs=1e-6)


def test_a_spot_guides_it() -> None:
    assert "order.entry" not in {f.code for f in told(_cross_hole(spot=True), bar())}


def test_a_spot_on_the_far_side_guides_nothing() -> None:
    plan = _cross_hole(spot=True)
    (first,) = plan["setups"]
    below = {**first, "origin": {**first["origin"], "axis": [0, 0, -1]}, "workingsteps": first["workingsteps"][:1]}
    plan["setups"] = [below, {**first, "id": "S2", "workingsteps": first["workingsteps"][1:]}]
    assert ("order.entry", "S2") in {(f.code, f.setup) for f in told(plan, bar())}


def test_a_drill_on_flat_stock_needs_no_spot() -> None:
    plan = sound()
    next(s for s in plan["setups"][0]["workingsteps"] if s["id"] == "60")["enabled"] = False
    assert told(plan, block()) == []


@functools.cache
def edge_part() -> bytes:
    """A block with a rebate, and a hole whose circle lies half over the rebate's wall."""
    body = boolean.cut(
        solid.box((0, 0, 0), (40, 30, 20)),
        [solid.box((20, -1, 12), (41, 31, 21)), solid.cylinder((20, 15, -1), (20, 15, 21), 8)],
    )
    return stepio.write_step(body, "mm", "edge")


def _edge_plan(rebate_first: bool) -> Json:
    rebate = {
        "id": "10",
        "operation": "bottom_and_side_finish_milling",
        "tool": "EM",
        "features": [{"at": [30, 15, 12]}],
    }
    hole = {
        "id": "20",
        "operation": "drilling",
        "tool": "D8",
        "features": [{"class": "round_hole", "diameter": 8}],
        "overcut_length": 1,
    }
    plan = _cross_hole(spot=False)
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [40, 30, 20]}}
    plan["tools"] = [
        {"id": "EM", "type": "endmill", "DC": 12, "APMX": 20, "LU": 25, "stickout": 40},
        {"id": "D8", "type": "twist_drill", "DC": 8, "SIG": 118, "LU": 60, "stickout": 80},
    ]
    setup = plan["setups"][0]
    setup["origin"]["location"] = [0, 0, 20]
    setup["workholding"] = {"type": "vise", "jaw_axis": "Y", "jaw_width": 60, "jaw_height": 35, "parallel_height": 29}
    setup["workingsteps"] = [rebate, hole] if rebate_first else [hole, rebate]
    return plan


def test_a_drill_half_over_an_open_edge() -> None:
    found = [f for f in told(_edge_plan(rebate_first=True), edge_part()) if f.code == "order.entry"]
    assert [(f.setup, f.workingstep) for f in found] == [("S1", "20")]
    assert found[0].measured == pytest.approx(50.0, abs=1.0)  # the rebate's wall goes through the hole's axis


def test_drilled_before_the_rebate_it_starts_on_flat_metal() -> None:
    assert "order.entry" not in {f.code for f in told(_edge_plan(rebate_first=False), edge_part())}
