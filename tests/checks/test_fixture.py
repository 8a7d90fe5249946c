"""Holding on a fixture plate: what bears, what supports, what is cut away; each by one change of a sound plan."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from schemas.finding import Finding
from tests.support.block import Json, judged, places, told
from tests.support.plate import ELEMENTS, element, move, on_plate, plate, remove


def _bolt(x: float, y: float) -> Json:
    return {"type": "bolt", "name": "bolt", "cylinder": {"diameter": 5, "from": [x, y, -60], "to": [x, y, 4]}}


def _add(extra: Json) -> Callable[[Json], object]:
    return lambda plan: plan["setups"][0]["workholding"]["elements"].append(extra)


def _under_the_clamp(plan: Json) -> None:
    """A facing step whose stated depth cuts what clamp 1 stands on."""
    plan["tools"].append({"id": "FM", "type": "facemill", "DC": 63, "APMX": 9, "LU": 9, "stickout": 40})
    plan["workpiece"]["rawpiece"]["box"]["max"] = [80, 50, 11]
    move(plan, "clamp 1", z=1)
    move(plan, "clamp 2", z=1)
    face = {"class": "planar_face", "normal": [0, 0, 1]}
    step = {"id": "5", "operation": "plane_finish_milling", "tool": "FM", "features": [face], "bottom_z": 0}
    plan["setups"][0]["workingsteps"].insert(0, step)


def test_the_sound_fixture_has_nothing_but_notes() -> None:
    assert told(on_plate(), plate()) == []


@pytest.mark.parametrize(
    ("change", "code", "word"),
    [
        (lambda p: move(p, "clamp 1", z=1), "hold.faces", "clamp 1"),
        (lambda p: move(p, "clamp 2", z=-2), "hold.faces", "clamp 2"),
        (_add(_bolt(40, 44)), "hold.faces", "bolt"),
        (lambda p: move(p, "jack 6 6", z=-1), "hold.support", "jack 6 6"),
        (lambda p: move(p, "locator left", y=-1), "hold.support", "locator left"),
        (lambda p: move(p, "locator end", x=2), "hold.support", "locator end"),
    ],
    ids=[
        "clamp in the air",
        "clamp in the metal",
        "bolt without a hole",
        "low jack",
        "locator off",
        "locator in metal",
    ],
)
def test_one_element_out_of_place(change: Callable[[Json], object], code: str, word: str) -> None:
    plan = on_plate()
    change(plan)
    found = [f for f in told(plan, plate()) if f.level == "error"]
    assert {f.code for f in found} == {code}
    assert all(word in f.message.lower() and f.message[0].isupper() for f in found)


def test_a_bolt_through_a_hole_that_is_there_is_sound() -> None:
    plan = on_plate()
    plan["setups"][0]["workingsteps"][0]["enabled"] = False
    _add({"type": "bolt", "name": "bolt", "cylinder": {"diameter": 5, "from": [90, 44, -60], "to": [90, 44, 4]}})(plan)
    assert "hold.faces" not in {f.code for f in told(plan, plate())}


def test_a_bolt_that_hangs_in_the_air_bears_on_nothing() -> None:
    plan = on_plate()
    head = {"type": "bolt", "name": "head", "cylinder": {"diameter": 10, "from": [20, 25, 2], "to": [20, 25, 8]}}
    _add(head)(plan)
    found = [f for f in told(plan, plate()) if f.code == "hold.faces"]
    assert [(f.measured, f.remedy and f.remedy.pointer) for f in found] == [
        (pytest.approx(2.0), f"/setups/0/workholding/elements/{len(ELEMENTS)}")
    ]
    found_on = on_plate()
    _add({**head, "cylinder": {"diameter": 10, "from": [20, 25, 0], "to": [20, 25, 8]}})(found_on)
    assert "hold.faces" not in {f.code for f in told(found_on, plate())}


def test_clamps_that_all_stand_off_press_on_nothing() -> None:
    plan = on_plate()
    for name in ("clamp 1", "clamp 2"):
        move(plan, name, z=1)
    messages = [f.message for f in told(plan, plate()) if f.level == "error"]
    assert sum("bears on nothing" in m for m in messages) == 2
    assert sum("Nothing presses" in m for m in messages) == 1


def test_a_clamp_beside_the_profile_is_to_be_moved_not_passed_over() -> None:
    """A toe clamp as high as the plate: no depth of the profile's cutter clears it."""
    plan = on_plate()
    plan["tools"].append({"id": "EM16", "type": "endmill", "DC": 16, "APMX": 20, "stickout": 60})
    plan["workpiece"]["rawpiece"] = {"box": {"min": [-2, -2, 0], "max": [82, 52, 10]}}
    _add({"type": "clamp", "name": "toe", "box": {"min": [30, 52, -10], "max": [50, 70, 2]}})(plan)
    profile = {"id": "5", "operation": "side_finish_milling", "tool": "EM16", "bottom_z": -10}
    plan["setups"][0]["workingsteps"].insert(0, {**profile, "features": [{"class": "profile_feature"}]})
    remedies = [f.remedy for f in told(plan, plate()) if f.code == "cut.workholding" and "toe" in f.message]
    assert [r and (r.pointer, r.value) for r in remedies] == [("/setups/0/workholding", None)]


def test_too_few_locators_are_a_warning() -> None:
    plan = on_plate()
    remove(plan, "locator end")
    assert [(f.code, f.level) for f in told(plan, plate())] == [("hold.support", "warning")]


def test_the_weight_outside_the_jacks() -> None:
    plan = on_plate()
    remove(plan, "jack 74 6", "jack 74 44")
    found = [f for f in told(plan, plate()) if f.level == "error"]
    assert places(found) == {("hold.support", "S1", None)}
    assert found[0].measured == pytest.approx(30.0, abs=0.02)  # centre of mass at x = 40, jacks to x = 10


def test_nothing_to_stand_on() -> None:
    plan = on_plate()
    remove(plan, *(e["name"] for e in ELEMENTS if e["type"] == "jack"))
    assert places(told(plan, plate())) == {("hold.support", "S1", None)}


def test_a_clamp_over_the_cut() -> None:
    plan = on_plate()
    _under_the_clamp(plan)
    found = places(told(plan, plate()))
    assert {("cut.workholding", "S1", "5"), ("hold.released", "S1", "5")} <= found
    assert {code for code, _, _ in found} == {"cut.workholding", "hold.released"}


def test_clamps_on_finished_faces_are_noted() -> None:
    findings, _ = judged(on_plate(), plate())
    assert {f.code for f in findings} == {"hold.marked"}
    assert {f.level for f in findings} == {"note"}


def test_a_drill_over_a_jack_comes_out_into_it() -> None:
    plan = on_plate()
    shape = element(plan, "jack 6 6")["cylinder"]
    shape["from"], shape["to"] = [20, 25, -30], [20, 25, -10]
    found = told(plan, plate())
    breaks = [f for f in found if f.code == "depth.breakout"]
    assert [(f.setup, f.workingstep) for f in breaks] == [("S1", "10")]
    # point of a 6 mm drill, 118 degrees: 1.8026 mm, plus the overcut of 1 mm
    assert breaks[0].measured == pytest.approx(2.8026, abs=1e-3)


def test_a_breakout_is_shown_where_a_hole_is() -> None:
    """Both holes, at x = 20 and 60, come out into the base, 10 under the plate's top: not half-way between them."""
    plan = on_plate()
    element(plan, "base")["box"]["max"] = [120, 90, -10]
    (found,) = [f for f in told(plan, plate()) if f.code == "depth.breakout"]
    assert found.at is not None and found.at.part[:2] == (pytest.approx(20), pytest.approx(25))
    assert found.remedy is not None and "give base a hole" in found.remedy.text


def _from_the_side(**keys: Any) -> Json:
    """The plate's clamps taken off, one put at its far end: it pushes towards -X, where a locator may stand."""
    plan = on_plate()
    remove(plan, "clamp 1", "clamp 2")
    side = {"type": "clamp", "name": "side clamp", "box": {"min": [80, 20, -9], "max": [90, 30, -2]}, "force": 4000}
    plan["setups"][0]["workholding"]["elements"].append({**side, **keys})
    return plan


def _support(plan: Json) -> list[str]:
    return [f.message for f in told(plan, plate()) if f.code == "hold.support"]


def test_a_clamp_that_pushes_sideways_wants_something_against_it() -> None:
    assert _support(_from_the_side()) == []
    free = _from_the_side()
    remove(free, "locator end")
    assert "Side clamp pushes the stock aside: nothing stands against it." in _support(free)


def test_a_clamp_under_the_stock_presses_on_nothing() -> None:
    low = _from_the_side(box={"min": [50, 20, -20], "max": [58, 30, -10]})
    assert _support(low) == ["Nothing presses on the stock: its clamps bear on it from below."]


def _locators(plan: Json) -> list[float | None]:
    """How many points the locators fix, where they are too few."""
    return [f.measured for f in told(plan, plate()) if f.code == "hold.support" and "(3-2-1)" in f.message]


def test_three_locators_on_one_side_or_two_on_one_spot_fix_two_points() -> None:
    aside, twice = on_plate(), on_plate()
    move(aside, "locator end", x=44, y=-29)
    move(twice, "locator right", x=-40)
    assert _locators(aside) == [2.0] and _locators(twice) == [2.0]


def test_a_rail_along_the_side_fixes_two_points() -> None:
    plan = on_plate()
    remove(plan, "locator left", "locator right")
    rail = {"type": "locator", "name": "rail", "box": {"min": [20, -6, -30], "max": [60, 0, -2]}}
    plan["setups"][0]["workholding"]["elements"].append(rail)
    assert _locators(plan) == []
    rail["box"] = {"min": [30, -6, -30], "max": [40, 0, -2]}  # too short to keep it from turning
    assert _locators(plan) == [2.0]


def test_a_clamp_between_its_supports_bends_the_stock() -> None:
    """The plate is 10 thick; clamp 1, 10 wide, presses from x = 22 on, 12 beside a jack that ends at x = 10. F d / 2
    against b t^2 / 6, b = 10 + 24, at 250 N/mm2 (EN AW-6082 T6): 23.6 kN."""
    bears = 250 * (34 * 10**2 / 6) * 2 / 12

    def told_of(force: float, **keys: float) -> list[Finding]:
        plan = on_plate()
        plan["workpiece"]["material"] = {"name": "aluminium", "iso513_group": "N"}
        clamp = element(plan, "clamp 1")
        clamp |= {"box": {"min": [22, 20, 0], "max": [38, 30, 12]}, "force": force}
        move(plan, "jack 6 6", **keys)
        return [f for f in told(plan, plate()) if f.code == "hold.support" and "bends" in f.message]

    (found,) = told_of(bears * 1.01, y=19)
    assert found.level == "warning" and found.limit == pytest.approx(bears, rel=1e-3)
    assert told_of(bears * 0.99, y=19) == []
    assert told_of(bears * 3, x=20, y=19) == []  # the jack, to x = 30, stands under it


def test_a_bolt_in_a_hole_that_is_still_to_be_drilled_is_to_be_moved() -> None:
    """The drill would go along all of it, 10 and 1 past and its point of 1.8: no overcut less than that helps."""
    plan = on_plate()
    bolt = {"type": "bolt", "name": "b", "cylinder": {"diameter": 5.9, "from": [20, 25, -60], "to": [20, 25, 0]}}
    plan["setups"][0]["workholding"]["elements"].append(bolt)
    found = {f.code: f for f in told(plan, plate())}
    assert "no hole for it" in found["hold.faces"].message
    assert found["cut.workholding"].measured == pytest.approx(10 + 1 + 1.8026, abs=1e-3)
    assert found["cut.workholding"].remedy is not None
    assert found["cut.workholding"].remedy.pointer == "/setups/0/workholding"
