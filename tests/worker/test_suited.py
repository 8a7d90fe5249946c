"""Which operation makes which feature: ISO 14649-11 gives drilling, boring, reaming and tapping to holes (from memory),
milling to all else; a chamfer round a mouth may be made with the hole (common practice)."""

from __future__ import annotations

import json
from typing import Any

import pytest

from schemas.base import Frame, Vec3
from schemas.feature import Feature
from schemas.plan import ON_AXIS, Workingstep, read_plan
from schemas.problem import Problem
from schemas.tool import MILLS, Tool
from tests.support.plans import drilled_block
from worker.resolve import resolve
from worker.suited import suited, suits

UP: Vec3 = (0.0, 0.0, 1.0)
HOLES = ["round_hole", "counterbore_hole", "countersunk_hole"]
OTHERS = ["planar_face", "closed_pocket", "open_pocket", "slot", "step", "profile_feature", "region"]
MILLING = ["plane_finish_milling", "side_rough_milling", "bottom_and_side_finish_milling", "freeform_operation"]


def feature(class_: str, **sizes: Any) -> Feature:
    return Feature(id=f"{class_}-1", class_=class_, faces=(1,), placement=Frame(axis=UP), **sizes)


def step(operation: str) -> Workingstep:
    more = {"size": 0.3} if operation == "edge_breaking" else {}
    return Workingstep(id="10", operation=operation, tool="T", features=("x",), **more)


def tool(type: str = "twist_drill", DC: float = 8.0) -> Tool:
    form = {"APMX": 20} if type in MILLS else {"SIG": 118}
    return Tool(id="T", type=type, DC=DC, stickout=60, **form)


def made(operation: str, *features: Feature, cutter: Tool | None = None) -> bool:
    return all(suits(step(operation), cutter or tool(), one, UP) for one in features)


@pytest.mark.parametrize("operation", sorted(ON_AXIS))
def test_what_feeds_along_an_axis_makes_holes_and_nothing_else(operation: str) -> None:
    assert made(operation, *map(feature, HOLES))
    assert not any(made(operation, feature(one)) for one in OTHERS)
    assert not made(operation, feature("chamfer", length=40.0))


@pytest.mark.parametrize("operation", MILLING)
def test_milling_makes_everything(operation: str) -> None:
    assert made(operation, *map(feature, [*HOLES, *OTHERS, "chamfer", "edge_round"]), cutter=tool("endmill"))


def test_a_mouth_s_chamfer_may_be_sunk_and_chamfering_makes_no_recess() -> None:
    mouth = feature("chamfer", diameter=6.0)
    pointed = ("drilling", "center_drilling", "counter_sinking", "back_boring", "chamfering")
    assert all(made(one, mouth) for one in pointed)
    assert not any(made(one, mouth) for one in ("reaming", "boring", "tapping"))
    assert made("chamfering", feature("chamfer"), feature("countersunk_hole"), feature("edge_round"))
    assert not any(made("chamfering", feature(one)) for one in OTHERS if one != "region")  # a level face, too
    assert made("edge_breaking", *map(feature, [*HOLES, *OTHERS]))


def test_a_drill_of_its_size_makes_a_hole_that_the_outside_cuts_open() -> None:
    along = Frame(axis=(1.0, 0.0, 0.0), ref_direction=UP)
    open_ = Feature(id="slot-1", class_="slot", faces=(1,), placement=along, bottom="radiused", planar_radius=4.0)
    lying = open_.model_copy(update={"placement": Frame(axis=UP)})
    assert made("drilling", open_) and made("reaming", open_) and not made("tapping", open_)
    assert not made("drilling", open_, cutter=tool(DC=7.0)) and not made("drilling", lying)


def test_the_selector_is_named_and_one_without_a_class_means_what_the_operation_makes() -> None:
    bore, pocket = feature("round_hole"), feature("closed_pocket")
    assert suited(step("drilling"), tool(), (pocket, bore), UP, "/p", of_any_class=True) == (bore,)
    for found, any_class in (((pocket, bore), False), ((pocket,), True)):
        with pytest.raises(Problem) as caught:
            suited(step("drilling"), tool(), found, UP, "/setups/0/workingsteps/0/features/0", of_any_class=any_class)
        assert caught.value.pointer == "/setups/0/workingsteps/0/features/0"
        assert "drilling does not make closed_pocket-1" in caught.value.detail and "a hole" in caught.value.remedy


def test_a_flank_makes_a_plane_face_that_leans_as_a_chamfer() -> None:
    """A chamfer too wide for its plate is a face of its own, and one cutter makes both (common practice)."""
    leaning = Feature(id="planar_face-1", class_="planar_face", faces=(1,), placement=Frame(axis=(1.0, 0.0, 1.0)))
    upright = leaning.model_copy(update={"placement": Frame(axis=(1.0, 0.0, 0.0), ref_direction=UP)})
    round_a_boss = leaning.model_copy(update={"bosses": ("boss-1",)})
    cutter = tool("chamfer_mill")
    assert made("chamfering", leaning, cutter=cutter)
    assert not made("chamfering", upright, cutter=cutter) and not made("chamfering", round_a_boss, cutter=cutter)


@pytest.mark.parametrize("name", ["chamfer", "edge_round"])
def test_who_mills_an_edge_with_a_pointed_cutter_is_told_the_operation_s_name(name: str) -> None:
    with pytest.raises(Problem) as caught:
        suited(
            step("bottom_and_side_finish_milling"), tool("chamfer_mill"), (feature(name),), UP, "/p", of_any_class=False
        )
    assert caught.value.remedy == f"State chamfering: so the tool's flank makes {name}-1."
    assert made("chamfering", feature(name), cutter=tool("chamfer_mill"))


def test_a_flank_leaves_no_allowance_on_its_chamfer() -> None:
    """The tip's height alone says how much of a chamfer a flank makes."""
    chamfer, mill = feature("chamfer"), tool("chamfer_mill")
    for key in ("allowance_side", "allowance_bottom"):
        stated = step("chamfering").model_copy(update={key: 0.2})
        with pytest.raises(Problem, match=key):
            suited(stated, mill, (chamfer,), UP, "/p", of_any_class=False)
        followed = step("freeform_operation").model_copy(update={key: 0.2})
        assert suited(followed, tool("ballnose_endmill"), (chamfer,), UP, "/p", of_any_class=False) == (chamfer,)
    assert suited(step("chamfering"), mill, (chamfer,), UP, "/p", of_any_class=False) == (chamfer,)


def test_an_allowance_on_a_tools_own_axis_is_what_its_size_leaves() -> None:
    """A hole of 10 less a drill of 9.6, by two: 0.2 on the wall. Any other value is belied by the tool."""
    bore = feature("round_hole", diameter=10.0)
    for DC, said, true in ((9.6, 0.2, True), (9.6, 0.1, False), (10.0, 0.2, False), (10.0, -0.2, False)):
        document = drilled_block(20, diameter=10.0)
        document["tools"][0]["DC"] = DC
        document["setups"][0]["workingsteps"][0]["allowance_side"] = said
        plan = read_plan(json.dumps(document).encode())
        if true:
            assert resolve(plan, (bore,), lambda *_: True)["S1"][0].features == (bore,)
            continue
        with pytest.raises(Problem) as caught:
            resolve(plan, (bore,), lambda *_: True)
        assert caught.value.pointer == "/setups/0/workingsteps/0/allowance_side"
        assert f"{10 - 2 * said:g} mm leaves that much" in caught.value.remedy
