"""The plan's border: every fault is named by its JSON pointer with what to do; lengths are converted once."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from schemas.plan import SetupPlan, read_plan, step_names
from schemas.problem import Problem

EXAMPLES = Path(__file__).parents[2] / "examples"


def plan_of(name: str = "valve_body") -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads((EXAMPLES / name / "plan.json").read_text())
    return loaded


def put(document: dict[str, Any], pointer: str, value: Any) -> dict[str, Any]:
    """A copy with one value set (or, for ``...``, removed) at the pointer."""
    changed = copy.deepcopy(document)
    here: Any = changed
    *path, last = pointer.strip("/").split("/")
    for part in path:
        here = here[int(part)] if isinstance(here, list) else here[part]
    key: Any = int(last) if isinstance(here, list) else last
    if value is ...:
        del here[key]
    else:
        here[key] = value
    return changed


def read(document: dict[str, Any]) -> SetupPlan:
    return read_plan(json.dumps(document).encode())


def refusal(document: dict[str, Any]) -> Problem:
    with pytest.raises(Problem) as caught:
        read(document)
    return caught.value


STEP = "/setups/0/workingsteps/0"
VISE = "/setups/0/workholding"
FAULTS: list[tuple[str, Any, str]] = [
    ("/plan_version", 2, "/plan_version"),
    ("/units", "cm", "/units"),
    ("/units", ..., "/units"),
    ("/tools", [], "/tools"),
    ("/setups", [], "/setups"),
    ("/colour", "red", "/colour"),
    ("/tools/0/DC", "50", "/tools/0/DC"),
    ("/tools/0/DC", -50, "/tools/0/DC"),
    ("/tools/0/DC", 0, "/tools/0/DC"),
    ("/tools/0/DC", True, "/tools/0/DC"),
    ("/tools/0/DC", ..., "/tools/0"),
    ("/tools/0/APMX", 60, "/tools/0"),
    ("/tools/0/Dc", 50, "/tools/0/Dc"),
    ("/tools/0/type", "endmil", "/tools/0/type"),
    ("/tools/0/stickout", ..., "/tools/0/stickout"),
    ("/tools/0/NOF", 2.5, "/tools/0/NOF"),
    ("/tools/0/RE", 30, "/tools/0"),
    ("/tools/0/holder/0/diameter", 0, "/tools/0/holder/0/diameter"),
    ("/tools/4/SIG", ..., "/tools/4"),
    ("/tools/4/SIG", 181, "/tools/4/SIG"),
    ("/tools/4/SIG", 180, "/tools/4"),
    ("/tools/4/tip_diameter", 10, "/tools/4"),
    ("/tools/13/thread", "M5y1", "/tools/13/thread"),
    ("/tools/13/thread", ..., "/tools/13"),
    ("/tools/13/TP", 0.75, "/tools/13"),  # M5 has 0.8 (ISO 261)
    ("/tools/0/TP", 0.8, "/tools/0"),
    ("/tools/0/thread", "M5", "/tools/0"),
    ("/tools/0/tip_diameter", 2, "/tools/0"),
    ("/tools/0/SIG", 90, "/tools/0"),
    ("/tools/0/OAL", 44, "/tools/0"),  # the plan's stick-out is 45
    ("/tools/1/id", "T1", "/tools/1/id"),
    ("/tools/1/id", "../T", "/tools/1/id"),
    (f"{STEP}/tool", "T99", f"{STEP}/tool"),
    (f"{STEP}/operation", "milling", f"{STEP}/operation"),
    (f"{STEP}/features", [], STEP),
    (f"{STEP}/features", [{}], f"{STEP}/features/0"),
    (f"{STEP}/features", [{"count": 1}], f"{STEP}/features/0"),
    (f"{STEP}/features", [{"class": "hole"}], f"{STEP}/features/0/class"),
    (f"{STEP}/features", [{"class": "planar_face", "normal": [0, 0, 0]}], f"{STEP}/features/0/normal"),
    (f"{STEP}/features", {"class": "planar_face"}, f"{STEP}/features"),
    (f"{STEP}", [], STEP),
    (f"{STEP}/technology", 12, f"{STEP}/technology"),
    (f"{STEP}/technology/spindle_speed", 1e308, f"{STEP}/technology/spindle_speed"),
    (f"{STEP}/technology/feed_per_tooth", 1e-308, f"{STEP}/technology/feed_per_tooth"),
    ("/tools/0/DC", 1e308, "/tools/0/DC"),
    ("/tools/0/DC", 1e-9, "/tools/0/DC"),
    ("/tools/0/name", "\ud800", "/tools/0/name"),
    ("/tools/13/thread", "M" * 5000, "/tools/13/thread"),
    ("/two\nlines", 1, "/two\nlines"),
    ("/setups/0/origin/location", [0, 0, -1e308], "/setups/0/origin/location/2"),
    ("/setups/0/origin/axis", [0, 0, 1e-308], "/setups/0/origin/axis"),
    ("/setups/0/origin/axis", [1e308, 1e308, 1e308], "/setups/0/origin/axis"),
    (f"{STEP}/features", [{"class": "planar_face", "normal": [0, 1]}], f"{STEP}/features/0/normal"),
    (f"{STEP}/features", [{"diametre": 5}], f"{STEP}/features/0/diametre"),
    (f"{STEP}/size", 0.3, STEP),
    (f"{STEP}/enabled", "yes", f"{STEP}/enabled"),
    (f"{STEP}/id", "20", "/setups/0/workingsteps/1/id"),
    (f"{STEP}/overcut_length", -1, f"{STEP}/overcut_length"),
    (f"{STEP}/technology/cutspeed", 200, f"{STEP}/technology"),
    (f"{STEP}/technology/feed_per_rev", 0.1, f"{STEP}/technology"),
    (f"{STEP}/technology/spindle_speed", 0, f"{STEP}/technology/spindle_speed"),
    ("/setups/0/workingsteps/2/cutting_depth", 4, "/setups/0/workingsteps/2"),
    (f"{STEP}/cutting_depth", 4, STEP),  # a cutter's depth is bottom_z: this one would be ignored
    ("/setups/0/workingsteps/15/size", ..., "/setups/0/workingsteps/15"),
    ("/setups/0/as_is", "carried", "/setups/0/as_is"),
    ("/setups/1/as_is", "caried", "/setups/1/as_is"),
    ("/setups/1/id", "s1", "/setups/1/id"),
    ("/setups/0/origin/axis", [0, 0, 0], "/setups/0/origin/axis"),
    ("/setups/0/origin/ref_direction", [0, 0, 2], "/setups/0/origin"),
    ("/setups/0/origin/location", {"on": "as_is", "at": ["min", "mid", "top"]}, "/setups/0/origin/location/at/2"),
    (f"{VISE}/type", "vice", VISE),
    (f"{VISE}/type", ..., VISE),
    (f"{VISE}/jaw_axis", "Z", f"{VISE}/jaw_axis"),
    (f"{VISE}/jaw_height", 40, VISE),
    (f"{VISE}/jaws", "soft", VISE),
    (f"{VISE}/nest_depth", 5, VISE),
    (VISE, {"type": "vise", "jaw_axis": "Y", "jaw_width": 9, "jaw_height": 8, "jaws": "soft", "nest_depth": 8.1}, VISE),
    ("/workpiece/rawpiece/cylinder", {"diameter": 5, "from": [0, 0, 0], "to": [0, 0, 9]}, "/workpiece/rawpiece"),
    ("/workpiece/rawpiece/box/min", [-2, 70, -12], "/workpiece/rawpiece/box"),
    ("/workpiece/rawpiece/box", {"min": [0, 0, 0], "max": [9, 9, 1e-300]}, "/workpiece/rawpiece/box"),
    ("/workpiece/rawpiece/box", {"allowance": [[1, 1], [1, 1], [1, -1]]}, "/workpiece/rawpiece/box/allowance/2/1"),
    ("/workpiece/material/density_kg_m3", 0, "/workpiece/material/density_kg_m3"),
    ("/machine/travel", [600, 400], "/machine/travel"),
    ("/policy", {"levels": {"cut.gouge": "ignore"}}, "/policy/levels/cut.gouge"),
]


@pytest.mark.parametrize(("pointer", "value", "expected"), FAULTS, ids=[f"{p}={v!r}"[:60] for p, v, _ in FAULTS])
def test_each_fault_is_named_by_its_pointer(pointer: str, value: Any, expected: str) -> None:
    problem = refusal(put(plan_of(), pointer, value))
    assert problem.type == "plan.invalid"
    pointers = [problem.pointer, *(e["pointer"] for e in problem.errors)]
    assert expected in pointers, (pointers, problem.detail)
    assert problem.pointer.startswith(expected) or expected.startswith(problem.pointer)


@pytest.mark.parametrize(("pointer", "value", "expected"), FAULTS, ids=[f"{p}={v!r}"[:60] for p, v, _ in FAULTS])
def test_each_fault_is_one_sentence_that_says_what_to_do(pointer: str, value: Any, expected: str) -> None:
    sentence = refusal(put(plan_of(), pointer, value)).sentence()
    assert "\n" not in sentence
    assert len(sentence) < 600
    assert not any(word in sentence for word in ("pydantic", "Traceback", "ValidationError", "Model"))
    assert not any(word in sentence for word in ("tuple", "dictionary", "instance of"))  # JSON has none of these


def test_only_faults_worded_by_hand_go_without_a_separate_remedy() -> None:
    for pointer, value, _ in FAULTS:
        problem = refusal(put(plan_of(), pointer, value))
        assert problem.remedy or problem.errors[0]["kind"] == "value_error", (pointer, value, problem.sentence())


@pytest.mark.parametrize(
    ("pointer", "words"),
    [
        ("/setups/0/workingsteps/0/axial_cutting_depth", "Put it into 'technology'"),  # the contract, section 1
        ("/setups/0/workingsteps/0/alowance_side", "Write 'allowance_side'"),
        ("/tools/0/stick_out", "Write 'stickout'"),
        ("/tools/0/holder/0/shank_diameter", "Write 'diameter'"),
        ("/setups/0/workholding/colour", "Remove this key"),
        ("/setups/0/workingsteps/0/diameter", "Remove this key"),  # many objects have one
        ("/tools/0/diameter", "Write 'DC'"),  # ISO 13399, cutting diameter
        ("/tools/0/flutes", "Write 'NOF'"),  # ISO 13399, flute count
    ],
)
def test_a_key_that_is_known_elsewhere_or_misspelt_is_told_so(pointer: str, words: str) -> None:
    found = refusal(put(plan_of(), pointer, 1.0))
    assert found.pointer == pointer
    assert found.remedy.startswith(words)


def test_an_id_in_a_selector_is_told_to_stand_by_itself() -> None:
    found = refusal(put(plan_of(), "/setups/0/workingsteps/0/features/0", {"id": "slot-1a2b"}))
    assert found.pointer == "/setups/0/workingsteps/0/features/0"
    assert 'as in "features": ["slot-1a2b"]' in found.sentence()


@pytest.mark.parametrize("key", ["clamping_force", "bodies/0/weight"])
def test_a_kind_that_is_named_like_one_of_its_keys_hides_no_place(key: str) -> None:
    pointer = f"/setups/2/workholding/{key}"
    assert refusal(put(plan_of("spindle_nose"), pointer, 1.0)).pointer == pointer


def test_a_list_of_faulty_elements_is_not_told_to_be_empty() -> None:
    faulty = plan_of("sensor_plate")
    faulty["setups"] = faulty["setups"][:1]  # no more than there must be
    for setup in faulty["setups"]:
        setup["colour"] = "red"
    told = [fault["pointer"] for fault in refusal(faulty).errors]
    assert told == [f"/setups/{i}/colour" for i in range(len(faulty["setups"]))]


def test_every_fault_has_a_line_of_its_own() -> None:
    document = put(put(plan_of(), "/setups/0/workingsteps/0/alowance_side", 1.0), "/tools/0/stick_out", 1.0)
    lines = refusal(document).sentences()
    assert [line.partition(":")[0] for line in lines] == [
        "/setups/0/workingsteps/0/alowance_side",
        "/tools/0/stick_out",
    ]


@pytest.mark.parametrize("directions", [{"axis": [0, 0, 0]}, {"axis": [0, 0, 1], "ref_direction": [0, 0, -3]}])
def test_a_placed_body_needs_a_frame(directions: dict[str, Any]) -> None:
    """Such a placement was met only when the body was brought there, as a failure of the product's own."""
    document = plan_of("spindle_nose")
    found = refusal(put(document, "/setups/2/workholding/bodies/0/placement", directions))
    assert found.pointer.startswith("/setups/2/workholding/bodies/0/placement")


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999"])
def test_numbers_that_are_none_are_refused(text: str) -> None:
    document = json.dumps(plan_of()).replace('"stickout": 45', f'"stickout": {text}', 1)
    with pytest.raises(Problem) as caught:
        read_plan(document.encode())
    assert caught.value.type in ("plan.not-json", "plan.invalid")
    assert "finite" in caught.value.sentence()


def test_a_key_given_twice_is_refused() -> None:
    document = json.dumps(plan_of()).replace('"units": "mm"', '"units": "mm", "units": "inch"', 1)
    with pytest.raises(Problem, match="units") as caught:
        read_plan(document.encode())
    assert "twice" in caught.value.detail


@pytest.mark.parametrize("data", [b"", b"{", b"[]", b"null", b"7", b"\xff\xfe{}", b"[" * 100_000, b"ISO-10303-21;"])
def test_what_is_no_json_object_is_refused(data: bytes) -> None:
    with pytest.raises(Problem) as caught:
        read_plan(data)
    assert caught.value.type == "plan.not-json"
    assert caught.value.remedy


def test_a_plan_of_more_than_four_megabytes_is_refused() -> None:
    with pytest.raises(Problem) as caught:
        read_plan(b" " * (4 * 1024 * 1024 + 1))
    assert caught.value.type == "plan.too-large"


def test_a_pointer_escapes_slash_and_tilde() -> None:
    # RFC 6901: ~ is ~0 and / is ~1
    problem = refusal(put(plan_of(), "/tools/0", plan_of()["tools"][0] | {"a/b~c": 1}))
    assert problem.pointer == "/tools/0/a~1b~0c"


def test_inch_lengths_are_converted_once_and_nothing_else_is() -> None:
    # 1 in = 25.4 mm exactly (1959 agreement); angles, speeds, forces, directions and densities are no lengths
    document = plan_of("pump_flange_inch")
    plan = read(document)
    raw = plan.workpiece.rawpiece.box
    assert raw is not None
    assert raw.min == pytest.approx((-1.5875, -1.5875, -7.9375), abs=1e-12)  # type: ignore[union-attr]
    drill = plan.tool("T7")
    assert drill.diameter == pytest.approx(27 / 64 * 25.4, abs=1e-12)
    assert drill.SIG == 118
    assert drill.holder[0].diameter == pytest.approx(1.25 * 25.4)
    vise = plan.setups[0].workholding
    assert vise.type == "vise"
    assert vise.jaw_height == pytest.approx(1.75 * 25.4)
    assert vise.clamping_force == 25000
    step = plan.setups[0].workingsteps[2]
    assert step.bottom_z == pytest.approx(-1.03 * 25.4)
    assert step.technology.spindle_speed == 7500
    assert step.technology.feed_per_tooth == pytest.approx(0.002 * 25.4)
    assert plan.setups[0].origin.axis == (0, 0, 1)
    assert plan.workpiece.material is not None
    assert plan.workpiece.material.density_kg_m3 == 2700
    hole = plan.setups[0].workingsteps[10].features[0]
    assert not isinstance(hole, str)
    assert hole.diameter == pytest.approx(0.265625 * 25.4)


def test_defaults_are_lengths_in_mm_whatever_the_units() -> None:
    # jaws 20 mm, parallels 6 mm where the plan is silent (common practice), also in an inch plan
    document = plan_of("pump_flange_inch")
    document = put(put(document, f"{VISE}/jaw_thickness", ...), f"{VISE}/parallel_thickness", ...)
    vise = read(document).setups[0].workholding
    assert vise.type == "vise"
    assert (vise.jaw_thickness, vise.parallel_thickness) == (20.0, 6.0)


@pytest.mark.parametrize("name", sorted(p.parent.name for p in EXAMPLES.glob("*/plan.json")))
def test_the_examples_are_valid_and_name_their_files(name: str) -> None:
    plan = read(plan_of(name))
    for file in step_names(plan):
        assert (EXAMPLES / name / f"{file}.step").is_file()


def test_the_valve_body_has_four_setups_and_at_least_24_steps() -> None:
    plan = read(plan_of())
    assert len(plan.setups) == 4
    assert sum(len(s.workingsteps) for s in plan.setups) >= 24
    assert all(setup.workholding.type == "vise" for setup in plan.setups)
    assert all(tool.holder for tool in plan.tools)


def _dovetail(units: str, **sizes: float) -> dict[str, Any]:
    scale = 1.0 if units == "mm" else 25.4
    lengths = {"DC": 16.0, "APMX": 10.0, "LU": 15.0, "DMM": 4.0, "stickout": 30.0, **sizes}
    tool: dict[str, Any] = {"id": "T99", "type": "dovetail_mill", "KAPR": sizes.pop("KAPR", 60.0)}
    tool |= {name: value / scale for name, value in lengths.items() if name != "KAPR"}
    document = plan_of("valve_body" if units == "mm" else "pump_flange_inch")
    return document | {"tools": [*document["tools"], tool]}


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("angle", [60.0, 120.0])
def test_a_dovetail_s_neck_is_no_thicker_than_the_top_of_its_head(units: str, angle: float) -> None:
    """The flank comes in by APMX / tan KAPR on each side: 16 - 2 x 10 / 1.73205 leaves 4.453 mm (plain geometry)."""
    read(_dovetail(units, DN=4.45, KAPR=angle))
    for stout in ({"DN": 4.46}, {"DN": 20.0}, {}):
        with pytest.raises(Problem) as caught:
            read(_dovetail(units, KAPR=angle, **stout))
        assert "T99" in str(caught.value.sentences()) and "neck" in str(caught.value.sentences())
