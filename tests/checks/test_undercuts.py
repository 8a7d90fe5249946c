"""T-slots, dovetails and ring grooves through the whole check: sound plans pass, one change tells its code."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, polygon, prism, torus
from schemas.finding import Finding
from tests.support.block import judged
from tests.support.kept import kept
from tests.support.recognised import recognise
from tests.support.trial import Json, plan, raw_box, setup, stages_of, step, step_bytes, tool
from tests.support.undercut import (
    FINISH,
    RAW,
    SLOT,
    block,
    dovetail,
    dovetail_mill,
    flat_groove,
    keyed,
    rounded_end,
    side_mill,
    t_mill,
    t_slot,
    turned,
    with_mouth,
)
from worker.kernel.shape import Body
from worker.pipeline import check_plan

HOLDER = [{"diameter": 30, "length": 40}]
VISE = {
    "type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 50, "jaw_thickness": 20, "parallel_height": 35,
    "parallel_thickness": 5, "max_opening": 100, "clamping_force": 15000, "jaw_surface": "smooth",
}  # fmt: skip


def _held(cutter: Json, stickout: float = 60) -> Json:
    return {**cutter, "stickout": stickout, "holder": HOLDER}


def _straight(diameter: float) -> Json:
    return _held(tool("endmill", diameter, APMX=25, LU=30, DMM=diameter))


def on_a_plate(*clamps: Json) -> Json:
    """The block on a plate, with clamps."""
    return {
        "type": "fixture_plate",
        "elements": [{"type": "plate", "box": {"min": [-60, -60, -60], "max": [60, 60, -40]}}, *clamps],
    }


def _slot_plan(cutter: Json, mouth: float) -> Json:
    steps = [step(FINISH, _straight(mouth), SLOT), step(FINISH, _held(cutter), SLOT)]
    return plan(RAW, setup(steps, workholding=VISE))


def _t_plan() -> Json:
    return _slot_plan(t_mill(), 10)


def _flanged(groove: bool, radius: float = 20) -> Shape:
    """A boss of 40 or so on a plate, with or without a ring groove of full radius round its side."""
    plate = box((-2 * radius, -2 * radius, -40), (2 * radius, 2 * radius, -30))
    whole = fuse(cylinder((0, 0, -30), (0, 0, 0), 2 * radius), plate)
    return cut(whole, torus((0, 0, -15), radius, 2)) if groove else whole


def told(document: Json, part: Shape, files: Mapping[str, bytes] | None = None) -> list[Finding]:
    """Findings above the level of a note."""
    found = check_plan(step_bytes(part), json.dumps(document).encode(), files or {}, None, kept()).report.findings
    return [f for f in found if f.level != "note"]


def codes(found: list[Finding]) -> set[str]:
    return {f.code for f in found}


def test_a_t_slot_and_a_dovetail_are_sound() -> None:
    assert told(_t_plan(), t_slot()) == []
    assert told(_slot_plan(dovetail_mill(), 12), dovetail()) == []


@pytest.mark.parametrize(("corner", "radius"), [(2.0, 20), (1.5, 4)], ids=["full-radius", "smaller"])
def test_v28_on_a_flange_is_sound(corner: float, radius: float) -> None:
    """A smaller corner goes along the groove in several passes, which take long on what is wide."""
    cutter = _held(side_mill(RE=corner, APMX=2 * corner))
    held = {**VISE, "jaw_height": 40, "parallel_height": 34}
    works = [step(FINISH, cutter, {"at": [radius - 2, 0, -15]})]
    document = plan({"step": "RAW"}, setup(works, workholding=held))
    raw = step_bytes(_flanged(groove=False, radius=radius))
    assert told(document, _flanged(groove=True, radius=radius), {"RAW": raw}) == []


def test_a_ring_groove_in_a_bore_is_sound() -> None:
    works = [
        step(FINISH, _held(tool("endmill", 12, APMX=45, LU=45, DMM=12)), {"class": "round_hole"}),
        step(FINISH, _held(side_mill(APMX=1.5)), {"at": [23, 0, -13]}),
    ]
    document = plan(raw_box((-40, -40, -40), (40, 40, 0)), setup(works, workholding=VISE))
    found = told(document, flat_groove(outside=False))
    assert found == []


def test_a_tilted_setup_is_sound_too() -> None:
    part, z, x = turned(t_slot())
    slot = step(FINISH, _held(t_mill()), SLOT)
    corner = {"on": "part", "at": ["min", "min", "max"]}
    held = setup([slot], axis=z, ref_direction=list(x), location=corner, workholding=VISE)
    document = plan({"step": "RAW"}, held)
    assert told(document, part, {"RAW": step_bytes(turned(with_mouth())[0])}) == []


def _tool(number: int, **values: Any) -> Callable[[Json], object]:
    return lambda document: document["tools"][number].update(values)


def _step(number: int, **values: Any) -> Callable[[Json], object]:
    return lambda document: document["setups"][0]["workingsteps"][number].update(values)


def _swap(document: Json) -> None:
    document["setups"][0]["workingsteps"].reverse()


def _without(number: int) -> Callable[[Json], object]:
    return lambda document: document["setups"][0]["workingsteps"].pop(number)


def _lower_head(document: Json) -> None:
    """A head that is lower than the foot, and an allowance that nobody takes."""
    document["tools"][1]["APMX"] = 7.5
    document["setups"][0]["workingsteps"][1]["allowance_bottom"] = 0.3


FAULTS: dict[str, tuple[Callable[[Json], object], str, str | None, float | None]] = {
    "straight cutter alone": (_without(1), "access.hidden", "10", None),
    "foot before mouth": (_swap, "order.sequence", "20", None),
    "no mouth": (_without(0), "order.sequence", "20", None),
    "thick neck": (_tool(1, DN=11), "reach.shank", "20", 10.0),
    "thick shank": (_tool(1, DMM=11, LU=18), "reach.shank", "20", 20.0),
    "head too wide": (_tool(1, DC=18.1), "fit.too-narrow", "20", 18.0),
    "head too high": (_tool(1, APMX=8.1), "fit.too-narrow", "20", 8.0),
    "too short": (_tool(1, LU=18), "reach.length", "20", 20.0),
    "holder too low": (_tool(1, stickout=19, LU=19), "reach.stickout", "20", 20.0),
    "into the floor": (_step(1, bottom_z=-20.5), "cut.gouge", "20", None),
    "into the roof": (_step(1, bottom_z=-19.5), "cut.gouge", "20", None),
    "allowance left": (_lower_head, "left.stock", "20", None),
}


@pytest.mark.parametrize("name", FAULTS)
def test_one_change_tells_its_code(name: str) -> None:
    change, code, place, value = FAULTS[name]
    document = copy.deepcopy(_t_plan())
    change(document)
    found = [f for f in told(document, t_slot()) if f.code == code]
    assert [f.workingstep for f in found] == [place]
    if value is not None:
        assert found[0].remedy is not None and found[0].remedy.value == pytest.approx(value, abs=0.02)


@pytest.mark.parametrize("angle", [50.0, 75.0])
def test_a_flank_of_another_angle_is_told_with_the_groove_s_own(angle: float) -> None:
    """The dovetail's sides lean by 60 degrees."""
    found = told(_slot_plan(dovetail_mill(KAPR=angle, DC=19, DN=2, DMM=2), 12), dovetail())
    assert {f.code for f in found} >= {"left.stock"}
    for remedy in (f.remedy for f in found if f.code == "left.stock"):
        assert remedy is not None and remedy.pointer == "/tools/1/KAPR" and remedy.value == pytest.approx(60.0)


def test_a_head_that_does_not_fit_leaves_the_mouth_its_step() -> None:
    """The straight cutter's step is sound; what is wrong is told at the step that is wrong."""
    document = copy.deepcopy(_t_plan())
    FAULTS["head too wide"][0](document)
    assert {f.workingstep for f in told(document, t_slot())} == {"20"}


def test_a_mouth_that_nobody_cuts_is_to_be_added_before() -> None:
    document = copy.deepcopy(_t_plan())
    FAULTS["no mouth"][0](document)
    (found,) = [f for f in told(document, t_slot()) if f.code == "order.sequence"]
    assert found.remedy is not None and found.remedy.text.startswith("Add a step before step 20")


@pytest.mark.parametrize("name", ["thick neck", "thick shank", "head too wide", "head too high", "too short"])
def test_the_remedy_mends_it(name: str) -> None:
    document = copy.deepcopy(_t_plan())
    FAULTS[name][0](document)
    (remedy,) = [f.remedy for f in told(document, t_slot()) if f.code == FAULTS[name][1]]
    assert remedy is not None
    document["tools"][1][remedy.pointer.split("/")[-1]] = remedy.value
    assert FAULTS[name][1] not in codes(told(document, t_slot()))


def test_a_head_a_micrometre_wider_and_higher_than_the_foot_is_its_size() -> None:
    document = copy.deepcopy(_t_plan())
    document["tools"][1].update(DC=18.001, APMX=8.001)
    assert told(document, t_slot()) == []


def _two_roofs() -> Shape:
    """A mouth 10 wide and 20 deep; below it to the left a foot 4 wide and 8 high, to the right one of 6."""
    return cut(
        block(), box((-41, -5, -20), (41, 5, 1)), box((-41, -9, -20), (41, 0, -12)), box((-41, 0, -20), (41, 9, -14))
    )


def test_a_head_a_hair_too_high_for_either_of_two_roofs_has_that_roofs_height() -> None:
    """Of 6 it takes both feet; of 8 the left one alone, and the right one stays: 4 x 6 x 80, by both computations."""
    slim = {"DC": 14, "DN": 5, "DMM": 5}
    assert told(_slot_plan(t_mill(**slim, APMX=6.0005), 10), _two_roofs()) == []
    found = told(_slot_plan(t_mill(**slim, APMX=8.0005), 10), _two_roofs())
    assert codes(found) == {"left.stock"} and found[0].measured == pytest.approx(1920, abs=0.1)


def test_a_head_that_fits_under_neither_roof_beside_the_other_is_told_so() -> None:
    """A head of 18 fills both feet: under the lower one only 6 of it have room."""
    found = judged(_slot_plan(t_mill(), 10), step_bytes(_two_roofs()))[0]
    assert [(f.measured, f.limit) for f in found if f.code == "fit.too-narrow"] == [(8.0, pytest.approx(6.0))]
    assert "cut.nothing" not in {f.code for f in found}


def test_a_closed_t_slot_without_an_entry_is_told_what_its_mouth_lets_through() -> None:
    closed = cut(block(), box((-20, -5, -12), (20, 5, 1)), box((-20, -9, -20), (20, 9, -12)))
    told_of = judged(_slot_plan(t_mill(), 10), step_bytes(closed))[0]
    (found,) = [f for f in told_of if f.code == "fit.too-narrow"]
    assert found.limit == pytest.approx(10.0, abs=5e-3) and "lets 10 mm through" in found.message
    assert found.remedy is not None


def test_jaws_in_the_heads_way_are_told() -> None:
    # the slot's open side lies in the face that the jaw, 15 over the slot, closes
    part = cut(block(), box((30, -31, -20), (41, 31, -15)))
    cutter = _held(side_mill(DC=25, APMX=5, DN=4, DMM=4))
    high = {**VISE, "jaw_axis": "X", "jaw_height": 70}
    document = plan(RAW, setup([step(FINISH, cutter, SLOT)], workholding=high))
    found = told(document, part)
    assert codes(found) == {"cut.workholding", "cut.nothing", "left.stock"}
    document["setups"][0]["workholding"]["jaw_height"] = 45
    assert told(document, part) == []


def test_a_head_higher_than_its_stated_depth_allows_is_short_of_the_floor() -> None:
    document = _slot_plan(dovetail_mill(), 12)
    document["setups"][0]["workingsteps"][1]["bottom_z"] = -9.5
    assert codes(told(document, dovetail())) == {"depth.short", "left.stock"}


def _rounded_end(**sizes: float) -> Json:
    """The mouth is a slot from above, the foot a pocket from the open end: each step names its own."""
    works = [step(FINISH, _straight(10), {"at": [0, 5, -6]}), step(FINISH, _held(t_mill(**sizes)), {"at": [0, 9, -16]})]
    return plan(RAW, setup(works, workholding=VISE))


def test_a_blind_t_slot_with_a_round_end_is_sound() -> None:
    assert told(_rounded_end(), rounded_end()) == []
    assert codes(told(_rounded_end(DN=11), rounded_end())) == {"reach.shank", "left.stock"}


def test_a_closed_t_slot_is_cut_through_its_entry_hole() -> None:
    # ends as round as the cutters: nothing is left of it but what the straight cutter must not take
    part = keyed()
    foot = next(f.id for f in recognise(Body(part)) if f.undercut)
    works = [step(FINISH, _straight(10), {"at": [-20, 0, -20]}), step(FINISH, _held(t_mill()), foot)]
    found = told(plan(RAW, setup(works, workholding=VISE)), part)
    assert not codes(found) & {"rule.failed", "evidence.disagreement", "reach.shank", "fit.too-narrow", "access.hidden"}


def test_a_holder_that_meets_the_boss_is_told_with_the_least_stickout() -> None:
    # the axis runs 28 from the boss's: a holder of 30 passes beside it, one of 80 stays above its top, 17 over the tip
    broad = {**side_mill(RE=2), "stickout": 16.9, "holder": [{"diameter": 80, "length": 40}]}
    works = [step(FINISH, broad, {"at": [18, 0, -15]})]
    held = {**VISE, "jaw_height": 40, "parallel_height": 34}
    document = plan({"step": "RAW"}, setup(works, workholding=held))
    files = {"RAW": step_bytes(_flanged(groove=False))}
    (found,) = [f for f in told(document, _flanged(groove=True), files) if f.code == "reach.stickout"]
    assert found.limit == pytest.approx(17.0, abs=0.02)


def test_a_clamp_beside_a_dovetail_whose_walls_lean_by_a_hair_more() -> None:
    """Walls rounded to 1e-6 follow the flank all but exactly. A clamp 6 long on the lip, 1.5 beside the mouth, keeps
    the shank of 5.75 to y = 1: of 12.196 mm2 of that side 0.866 go there, all of it farther off than head and shank."""
    wide, narrow, deep = 9.002777, 5.25, 6.5
    outline = [(-41, -wide, -deep), (-41, wide, -deep), (-41, narrow, 0), (-41, -narrow, 0)]
    part = cut(block(), prism(polygon(outline), (82, 0, 0)))
    raw = step_bytes(cut(block(), box((-41, -narrow, -deep), (41, narrow, 1))))
    cutter = tool("dovetail_mill", 10.5, APMX=6.5, KAPR=60, DN=2.9, LU=6.5, DMM=11.5)
    lip = {"type": "clamp", "box": {"min": [18.75, 6.75, 0], "max": [24.75, 12.75, 2.25]}}
    document = plan({"step": "RAW"}, setup([step(FINISH, cutter, SLOT)], workholding=on_a_plate(lip)))
    (stage,) = stages_of(part, document, {"RAW": raw})
    whole, kept = 160 * deep * (wide - narrow) / 2, deep * (wide - narrow) / 2 - 3**0.5 / 2
    assert stage.failures == ()
    assert whole - kept * (6 + 2 * (5.75 + 5.25)) < stage.cuts[0].removal_volume < whole - kept * 6


def test_a_clamp_before_the_open_end_leaves_the_way_in_round_it() -> None:
    """The neck is too thick for the mouth: the head nibbles at the ends, at one of them round a clamp that stands
    before it, 1.75 beside; the neck touches nothing there, so only that it keeps the head off is told."""
    part = cut(block(), box((-41, -5.5, -10.5), (41, 5.5, 1)), box((-41, -10, -16.75), (41, 10, -10.5)))
    raw = step_bytes(cut(block(), box((-41, -5.5, -16.75), (41, 5.5, 1))))
    cutter = _held(tool("side_mill", 19.4, APMX=5.25, DN=12, LU=18.25, DMM=12))
    before = {"type": "clamp", "box": {"min": [-57.75, -14.5, -40], "max": [-51.75, -6.75, 7.75]}}
    document = plan({"step": "RAW"}, setup([step(FINISH, cutter, SLOT)], workholding=on_a_plate(before)))
    shanks = [f.message for f in told(document, part, {"RAW": raw}) if f.code == "reach.shank"]
    assert len(shanks) == 1 and "The neck of T1, ø 12 mm, keeps its head off" in shanks[0]


def test_clamps_on_the_lips_of_a_t_slot_cover_nothing() -> None:
    lips = [{"type": "clamp", "box": {"min": [x, 5.5, 0], "max": [x + 6, 20, 4]}} for x in (-30, 20)]
    raw = step_bytes(with_mouth())
    document = plan({"step": "RAW"}, setup([step(FINISH, t_mill(), SLOT)], workholding=on_a_plate(*lips)))
    assert codes(told(document, t_slot(), {"RAW": raw})) == {"datum.absent"}  # the middle of the open mouth
