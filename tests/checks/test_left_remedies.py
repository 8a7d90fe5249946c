"""What mends metal that is left: the step that is switched off, else a setup whose axis sees the feature."""

from __future__ import annotations

from math import pi

import pytest

from examples.shapes import ball, box, common, cut, cylinder, fuse
from tests.support.block import Json, as_step, judged, one_setup, sound, step_of, told, tool_of
from tests.support.plans import applied
from tests.support.plate import on_plate, plate
from tests.support.trial import FAR_PLATE, setup, step_bytes, tool
from tests.support.trial import plan as plan_of
from tests.support.trial import step as work
from worker.checks import _within
from worker.kernel import boolean
from worker.kernel import primitives as solid


@pytest.mark.parametrize(("step", "code"), [("50", "left.stock"), ("50", "left.feature"), ("40", "left.stock")])
def test_a_step_that_is_switched_off_is_switched_on_again(step: str, code: str) -> None:
    plan = sound()
    step_of(plan, step)["enabled"] = False
    found = next(f for f in told(plan) if f.code == code)
    assert found.remedy and found.remedy.pointer
    assert found.remedy.pointer.endswith("/enabled") and found.remedy.value is True
    assert told(applied(plan, found.remedy)) == []


def _without(step: str) -> Json:
    plan = sound()
    steps = plan["setups"][0]["workingsteps"]
    steps.remove(step_of(plan, step))
    return plan


def test_a_step_that_is_not_there_is_added_where_the_axis_sees_it() -> None:
    found = {f.code: f.remedy for f in told(_without("50"))}
    for code in ("left.stock", "left.feature"):
        remedy = found[code]
        assert remedy and remedy.pointer == "/setups/0/workingsteps" and "S1" in remedy.text


def test_an_allowance_left_on_one_side_is_the_profiles() -> None:
    """The blank stands out at one side alone: that face is the profile's too, and no step names it by itself."""
    plan = sound()
    plan["workpiece"]["rawpiece"]["box"] = {"min": [0, -2, -10], "max": [60, 40, 22]}
    step_of(plan, "20")["allowance_side"] = 0.2
    found = {f.code: f for f in told(plan)}
    remedy = found["left.stock"].remedy
    assert remedy and remedy.pointer and remedy.pointer.endswith("/allowance_side") and remedy.value == 0.0
    assert (found["left.stock"].workingstep, found["left.feature"].workingstep) == ("20", "20")
    assert told(applied(plan, remedy)) == []


def test_jaws_above_the_face_are_named_and_lowered() -> None:
    """Upside down on parallels of 30 the bottom face lies at 50; jaws of 50.5 keep the face mill off all of it."""
    plan = sound()
    plan["setups"][1]["workholding"]["jaw_height"] = 50.5
    found = next(f for f in told(plan) if f.code == "left.stock")
    assert (found.setup, found.workingstep) == ("S2", "10") and "jaw keeps FM off" in found.message
    assert found.remedy and found.remedy.value == pytest.approx(50.0)
    assert told(applied(plan, found.remedy)) == []


def test_a_post_in_the_cutters_way_is_named() -> None:
    """A post 10 mm from the wall; the profile's cutter of 16 mm goes round it and leaves what it cannot reach."""
    plan = on_plate()
    plan["workpiece"]["rawpiece"] = {"box": {"min": [-2, -2, 0], "max": [82, 52, 10]}}
    plan["tools"].append({"id": "EM16", "type": "endmill", "DC": 16, "APMX": 20, "stickout": 60})
    post = {"type": "bolt", "name": "post", "box": {"min": [20, 60, -30], "max": [40, 70, 20]}}
    held = plan["setups"][0]["workholding"]
    held["elements"] = [e for e in held["elements"] if e["type"] in ("plate", "jack")]
    held["elements"] += [{"type": "clamp", "box": {"min": [30, 0, 0], "max": [50, 10, 1]}}, post]
    profile = {
        "id": "5",
        "operation": "side_finish_milling",
        "tool": "EM16",
        "features": [{"class": "profile_feature"}],
    }
    plan["setups"][0]["workingsteps"].insert(0, profile)
    found = [f for f in told(plan, plate()) if f.code == "left.stock"]
    assert [(f.workingstep, "post keeps EM16 off" in f.message) for f in found] == [("5", True)]


def _told(plan: Json) -> list[tuple[str, str | None, str, str]]:
    return [(f.code, f.workingstep, f.message, f.remedy.text if f.remedy else "") for f in told(plan)]


@pytest.mark.parametrize("jaws", [True, False])
def test_points_name_the_same_cause_as_booleans(jaws: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Lumps of thousands of faces, as meshes leave them, are asked by points; one of few answers the same both ways."""
    plan = sound()
    if jaws:
        plan["setups"][1]["workholding"]["jaw_height"] = 50.5
    else:
        step_of(plan, "40")["tool"] = "EM12"  # of radius 6, in corners of 5
    by_booleans = _told(plan)
    assert {code for code, *_ in by_booleans} >= {"left.stock"} | (set() if jaws else {"fit.corner-radius"})
    monkeypatch.setattr(_within, "MANY", 1)
    assert _told(plan) == by_booleans


def test_a_chamfer_that_another_flank_leaves_metal_on_names_its_angle() -> None:
    """The chamfer stands at 45 degrees: a point of 91 leaves a sliver, one of 90 none."""
    plan = sound()
    tool_of(plan, "CH")["SIG"] = 91
    (found,) = told(plan)
    assert found.code == "left.stock" and found.remedy is not None
    assert (found.remedy.pointer, found.remedy.value) == ("/tools/10/SIG", pytest.approx(90.0))
    assert told(applied(plan, found.remedy)) == []


def test_a_free_form_face_wants_a_ball_that_follows_it_not_another_flank() -> None:
    """A cap of height 8 over a bar of radius 20 leans by another angle everywhere: no SIG lies on it."""
    radius = (20**2 + 8**2) / 16
    cap = common(ball((0, 0, 38 - radius), radius), box((-30, -30, 30), (30, 30, 40)))
    part = step_bytes(fuse(cylinder((0, 0, 0), (0, 0, 30), 40), cap))
    rawpiece = {"cylinder": {"diameter": 40, "from": [0, 0, 0], "to": [0, 0, 40]}}
    region, flank = {"class": "region"}, tool("chamfer_mill", 10, SIG=90)
    plan = plan_of(rawpiece, setup([work("chamfering", flank, region)]))
    (found,) = (f for f in told(plan, part) if f.code == "left.stock")
    assert found.remedy and found.remedy.pointer == "/setups/0/workingsteps/0/operation"
    assert "freeform_operation with a ballnose_endmill" in found.remedy.text
    followed = plan_of(rawpiece, setup([work("freeform_operation", tool("ballnose_endmill", 6), region)]))
    assert not {f.code for f in told(followed, part)} & {"left.stock", "left.feature"}
    clamp = {"type": "clamp", "box": {"min": [-3, -30, -1], "max": [3, 0, 5]}}
    followed["setups"][0]["workholding"] = {**FAR_PLATE, "elements": [*FAR_PLATE["elements"], clamp]}
    codes = {f.code for f in told(followed, part)}
    assert "left.stock" in codes and "fit.floor-radius" not in codes  # it has no floor


def test_no_setup_is_advised_whose_axis_sees_what_none_does() -> None:
    """Heads on a pin: seen along any line that runs in a head's inner face, the pin stands before half of it."""
    block = solid.box((0, 0, 0), (60, 40, 20))
    pin = solid.cylinder((30, 9, 10), (30, 31, 10), 8)
    part = boolean.cut(block, [boolean.cut(solid.box((-1, 10, -1), (61, 30, 21)), [pin])])
    plan = one_setup(
        [{"id": "10", "operation": "plane_finish_milling", "tool": "FM", "features": [{"at": [30, 5, 20]}]}]
    )
    found = [f for f in judged(plan, as_step(part))[0] if f.code == "left.feature"]
    assert sorted(f.features[0].split("-")[0] for f in found) == ["boss", "planar_face"]
    assert all(f.remedy and "from one side" in f.remedy.text and f.remedy.pointer == "/setups" for f in found)


def test_metal_below_a_cutters_tip_asks_for_its_depth_and_of_no_wider_cutter() -> None:
    """A slot of 6 from a plate's end, 10 deep, of which its cutter stops 0.5 short: the profile's cutter of 16 passes
    the slot's mouth and fits nowhere, which is not why."""
    slot = fuse(box((40, 17, -1), (61, 23, 11)), cylinder((40, 20, -1), (40, 20, 11), 6))
    part = step_bytes(cut(box((0, 0, 0), (60, 40, 10)), slot))
    rounds = work("side_finish_milling", tool("endmill", 16, APMX=20), {"class": "profile_feature"})
    short = work("bottom_and_side_finish_milling", tool("endmill", 5, APMX=20), {"class": "slot"}, bottom_z=-9.5)
    plan = plan_of({"box": {"min": [-2, -2, 0], "max": [62, 42, 10]}}, setup([rounds, short]))
    found = [f for f in told(plan, part) if f.code in ("left.stock", "fit.corner-radius")]
    assert [(f.code, f.workingstep) for f in found if f.features and "slot" in f.features[0]] == [("left.stock", "20")]
    remedy = next(f.remedy for f in found if f.workingstep == "20")
    assert remedy and (remedy.pointer, remedy.value) == ("/setups/0/workingsteps/1/bottom_z", pytest.approx(-10.0))


def _relieved(relief: Json | None = None) -> list[Json]:
    """Findings on a pocket of 30 x 20, 8 deep, with a flat hole of 5 in each corner, cut by a mill of 4 and by
    the tool for these: of each circle the mill leaves three quarters and what its own radius does."""
    walls = [
        box((15, 10, 12), (45, 30, 21)),
        *(cylinder((x, y, 12), (x, y, 21), 5) for x in (15, 45) for y in (10, 30)),
    ]
    part = step_bytes(cut(box((0, 0, 0), (60, 40, 20)), fuse(*walls)))
    pocket = work("bottom_and_side_finish_milling", tool("endmill", 4), {"class": "closed_pocket"})
    reliefs = [work("drilling", relief, {"class": "round_hole", "count": 4})] if relief else []
    plan = plan_of({"box": {"min": [0, 0, 0], "max": [60, 40, 20]}}, setup([pocket, *reliefs]))
    return [f.model_dump() for f in told(plan, part) if f.code != "hold.support"]


def test_a_hole_at_a_pockets_corner_that_no_step_drills_is_forgotten_not_the_pockets_cutter_too_wide() -> None:
    """Left in each corner: three quarters of the circle of 5 and (4 - pi) of the mill's radius squared / 4, 8 deep."""
    found = {f["code"]: f for f in _relieved()}
    assert set(found) == {"left.feature", "left.stock"}
    area = 0.75 * pi * 2.5**2 + (4 - pi) * 2**2 / 4
    assert found["left.stock"]["measured"] == pytest.approx(8 * area, rel=1e-5)
    for one in found.values():
        assert one["workingstep"] is None and one["remedy"]["pointer"] == "/setups/0/workingsteps"
    assert all(id.startswith("round_hole") for id in found["left.feature"]["features"])


def test_a_point_in_a_flat_hole_at_a_pockets_corner_is_the_drills() -> None:
    found = {f["code"]: f for f in _relieved(tool("twist_drill", 5, SIG=118, LU=30))}
    assert found["left.stock"]["workingstep"] == "20" and found["fit.bottom"]["workingstep"] == "20"
    assert not {f["code"] for f in _relieved(tool("twist_drill", 5, SIG=180, LU=30))} & {"left.stock"}


def _words(plan: Json, part: bytes | None = None) -> str:
    return next(f.message for f in (told(plan, part) if part else told(plan)) if f.code == "left.stock")


def test_metal_is_as_thick_as_a_rule_says_it_is() -> None:
    """An allowance is a layer; a slug in a hole has a size."""
    plan = sound()
    step_of(plan, "20")["allowance_side"] = 0.2
    assert float(_words(plan).split(", ")[1].split()[0]) == pytest.approx(0.2, rel=0.02)  # and round corners
    drilled = step_bytes(cut(box((0, 0, 0), (60, 40, 20)), cylinder((30, 20, -1), (30, 20, 21), 8)))
    face = work("plane_finish_milling", tool("facemill", 50, LU=9, APMX=9), {"normal": [0, 0, 1]})
    assert "8 x 8 x 20 mm large" in _words(
        plan_of({"box": {"min": [0, 0, 0], "max": [60, 40, 21]}}, setup([face])), drilled
    )


def test_metal_that_the_steps_axis_does_not_see_wants_another_setup() -> None:
    """A blind hole from below, drilled from above: no cutter of that step gets there."""
    part = step_bytes(cut(box((0, 0, 0), (60, 40, 20)), cylinder((30, 20, -1), (30, 20, 8), 8)))
    drill = work("drilling", tool("twist_drill", 8, SIG=180, LU=40), {"class": "round_hole"})
    found = {f.code: f for f in told(plan_of({"box": {"min": [0, 0, 0], "max": [60, 40, 20]}}, setup([drill])), part)}
    assert found["left.stock"].remedy == found["access.hidden"].remedy
    assert found["left.stock"].remedy and found["left.stock"].remedy.pointer == "/setups/0/origin/axis"


def test_a_slot_that_a_profiles_cutter_passes_has_no_tight_corner_but_no_step() -> None:
    """A slit 3 wide from the side right through to a bore of 20: its walls meet the bore, and nothing else."""
    part = step_bytes(
        cut(
            box((0, 0, 0), (60, 40, 10)),
            fuse(cylinder((30, 20, -1), (30, 20, 11), 20), box((30, 18.5, -1), (61, 21.5, 11))),
        )
    )
    bore = work("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "round_hole"}, overcut_length=0.5)
    rounds = work("side_finish_milling", tool("endmill", 16), {"class": "profile_feature"})
    found = {
        f.code: f
        for f in told(plan_of({"box": {"min": [-2, -2, 0], "max": [62, 42, 10]}}, setup([bore, rounds])), part)
    }
    assert set(found) & {"fit.corner-radius", "left.stock", "left.feature"} == {"left.stock", "left.feature"}
    for code in ("left.stock", "left.feature"):
        remedy = found[code].remedy
        assert remedy and remedy.pointer == "/setups/0/workingsteps" and found[code].workingstep is None


@pytest.mark.parametrize("cutter", [tool("twist_drill", 8, SIG=118, LU=40), tool("counterbore", 8, LU=40)])
def test_metal_below_a_drill_that_stops_short_asks_for_its_depth(cutter: Json) -> None:
    """Flat or pointed, 9 deep at the full diameter in a hole right through 20; both rules ask for the same."""
    part = step_bytes(cut(box((0, 0, 0), (40, 40, 20)), cylinder((20, 20, -1), (20, 20, 21), 8)))
    operation = "drilling" if cutter["type"] == "twist_drill" else "counter_sinking"
    stopped = work(operation, cutter, {"class": "round_hole"}, cutting_depth=9)
    found = {f.code: f for f in told(plan_of({"box": {"min": [0, 0, 0], "max": [40, 40, 20]}}, setup([stopped])), part)}
    remedy = found["left.stock"].remedy
    assert remedy and (remedy.pointer, remedy.value) == ("/setups/0/workingsteps/0/cutting_depth", pytest.approx(20.0))
