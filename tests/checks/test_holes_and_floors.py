"""Threads as they are modelled, bottoms and floors, compounds, corners of other features: each sound and faulty."""

from __future__ import annotations

import math

import pytest

from tests.support.block import Json, as_step, blind, one_setup, places, solid_block, told
from tests.support.filleted import filleted_pocket
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body

HOLE = [{"class": "round_hole"}]
D102 = {"id": "D102", "type": "twist_drill", "DC": 10.2, "SIG": 118, "LU": 60, "stickout": 70}
M12 = {"id": "M12", "type": "tapping_cutting_tool", "thread": "M12", "LU": 40, "stickout": 60}
D10 = {"id": "D10", "type": "twist_drill", "DC": 10, "SIG": 118, "LU": 60, "stickout": 70}
D7 = {"id": "D7", "type": "twist_drill", "DC": 7, "SIG": 118, "LU": 60, "stickout": 70}
CB = {"id": "CB", "type": "counterbore", "DC": 11, "LU": 20, "stickout": 40}


def _step(id: str, operation: str, tool: str, features: list[Json], **keys: object) -> Json:
    return {"id": id, "operation": operation, "tool": tool, "features": features, **keys}


def _part(*tools: Body) -> bytes:
    return as_step(boolean.cut(solid_block(), list(tools)))


@pytest.mark.parametrize("modelled", [10.106, 10.2, 10.441, 12.0])
def test_a_tapped_hole_may_be_modelled_from_minor_to_major_diameter(modelled: float) -> None:
    """M12, 6H: minor diameter 10.106 to 10.441 mm; drilled 10.2 (ISO 2306), tapped 9 deep of 14."""
    steps = [
        _step("10", "drilling", "D102", HOLE, cutting_depth=14),
        _step("20", "tapping", "M12", HOLE, cutting_depth=9),
    ]
    assert told(one_setup(steps, D102, M12), _part(blind(30, 20, modelled, 14))) == []


def test_a_hole_of_another_size_is_not_the_threads() -> None:
    steps = [
        _step("10", "drilling", "D10", HOLE, cutting_depth=14),
        _step("20", "tapping", "M12", HOLE, cutting_depth=9),
    ]
    found = told(one_setup(steps, D10, M12), _part(blind(30, 20, 10, 14)))
    assert ("fit.tap-drill", "S1", "20") in places(found)


@pytest.mark.parametrize(("floor", "point"), [(True, 90), (False, 90), (False, 60)])
def test_a_point_goes_into_the_floor_that_a_conical_foot_runs_to(floor: bool, point: float) -> None:
    """A bore of 16 whose foot, a 45 degree cone, ends at 15 on a floor about a hole of 8, or runs down to that hole.
    The point of a 90 degree drill takes of the floor the cone between radius 4 and 7.5: the integral of
    ``pi (r2 - 16)`` over r, as it is as high as wide. What a longer point takes of a cone is its angle's fault."""
    low = 7.5 if floor else 4.0
    foot = solid.cone((30, 20, 4.5 + low), (30, 20, 12.5), 2 * low, 16)
    bore = [solid.cylinder((30, 20, 12.5), (30, 20, 21), 16), solid.cylinder((30, 20, -1), (30, 20, 21), 8)]
    drill = {"id": "D16", "type": "twist_drill", "DC": 16, "SIG": point, "LU": 60, "stickout": 70}
    steps = [_step("10", "drilling", "D16", [{"class": "round_hole", "diameter": 16}])]
    every = told(one_setup(steps, drill), _part(*bore, foot))
    found = [f for f in every if f.code == "cut.gouge"]
    taken = math.pi * ((7.5**3 - 4**3) / 3 - 16 * 3.5)
    assert [f.measured for f in found] == ([pytest.approx(taken, rel=1e-3)] if floor else [])
    assert any(f.code == "fit.bottom" for f in every) == (point == 60)


def test_a_flat_bottom_wants_more_than_a_drill() -> None:
    part = _part(solid.cylinder((30, 20, 8), (30, 20, 21), 10))
    drill, mill = _step("10", "drilling", "D10", HOLE), _step("20", "bottom_and_side_finish_milling", "EM6", HOLE)
    assert places(told(one_setup([drill], D10), part)) == {("fit.bottom", "S1", "10"), ("left.stock", "S1", "10")}
    assert told(one_setup([drill, mill], D10), part) == []


def test_a_drill_without_a_point_makes_a_flat_bottom() -> None:
    """ISO 13399: SIG is the included angle of the point; of 180 degrees it is a plane square to the axis."""
    part = _part(solid.cylinder((30, 20, 8), (30, 20, 21), 10))
    assert told(one_setup([_step("10", "drilling", "D10", HOLE)], D10 | {"SIG": 180}), part) == []


def _counterbored() -> bytes:
    return _part(solid.cylinder((30, 20, -1), (30, 20, 21), 6.6), solid.cylinder((30, 20, 14), (30, 20, 21), 11))


def test_a_compound_is_drilled_and_counterbored() -> None:
    compound = [{"class": "counterbore_hole"}]
    steps = [
        _step("10", "drilling", "D66", compound, overcut_length=1),
        _step("20", "counter_sinking", "CB", compound),
    ]
    assert told(one_setup(steps, CB), _counterbored()) == []


def test_a_compounds_drill_that_is_too_large() -> None:
    compound = [{"class": "counterbore_hole"}]
    steps = [_step("10", "drilling", "D7", compound, overcut_length=1), _step("20", "counter_sinking", "CB", compound)]
    found = told(one_setup(steps, CB, D7), _counterbored())
    fault = next(f for f in found if f.code == "fit.hole-diameter")
    assert (fault.workingstep, fault.measured) == ("10", 7.0)
    assert fault.limit == pytest.approx(6.6)


def _sunk(angle: float, diameter: float = 16) -> Json:
    sink = {"id": "CS", "type": "countersink", "DC": diameter, "SIG": angle, "LU": 20, "stickout": 40}
    hole = [{"class": "countersunk_hole"}]
    steps = [_step("10", "drilling", "D66", hole, overcut_length=1), _step("20", "counter_sinking", "CS", hole)]
    return one_setup(steps, sink)


def _countersunk() -> bytes:
    """M6, 90 degrees, 12.4 wide at the face (DIN 74-1 form A)."""
    return _part(solid.cylinder((30, 20, -1), (30, 20, 21), 6.6), solid.cone((30, 20, 20), (30, 20, 13.8), 12.4, 0.0))


def test_a_countersink_of_the_right_angle() -> None:
    assert told(_sunk(90), _countersunk()) == []


def test_an_82_degree_countersink_in_a_90_degree_hole() -> None:
    found = told(_sunk(82), _countersunk())
    assert places(found) == {("fit.bottom", "S1", "20"), ("left.stock", "S1", "20")}
    assert next(f for f in found if f.code == "fit.bottom").measured == 82


def test_a_countersink_that_is_too_small() -> None:
    found = told(_sunk(90, 10), _countersunk())
    assert ("fit.hole-diameter", "S1", "20") in places(found)
    assert {f.code for f in found} <= {"fit.hole-diameter", "left.stock"}


@pytest.mark.parametrize(
    ("diameter", "corner", "codes"),
    [
        (10, 2.0, ()),
        (6, 1.0, ()),
        (10, 1.0, ("left.stock",)),
        (10, 3.0, ("fit.floor-radius", "left.stock")),
        (10, None, ("fit.floor-radius", "left.stock")),
    ],
)
def test_a_floor_fillet_of_two(diameter: float, corner: float | None, codes: tuple[str, ...]) -> None:
    """Corners of 5 leave its floor corners of 3: a flat of 2 mm radius gets into them, one of 4 does not."""
    tool: Json = {"id": "T", "type": "endmill", "DC": diameter, "APMX": 20, "LU": 25, "stickout": 40}
    if corner is not None:
        tool |= {"type": "bullnose_endmill", "RE": corner}
    step = _step("10", "bottom_and_side_finish_milling", "T", [{"class": "closed_pocket"}])
    found = told(one_setup([step], tool), filleted_pocket())
    expected = {(code, "S1", "10") for code in codes}
    assert places(found) == expected


def _notched() -> bytes:
    """An L-shaped outline whose inner corner has a radius of 4."""
    notch = solid.box((30, 20, -1), (61, 41, 21))
    corner = boolean.cut(solid.box((30, 20, -1), (34, 24, 21)), [solid.cylinder((34, 24, -1), (34, 24, 21), 8)])
    return _part(boolean.cut(notch, [corner]))


@pytest.mark.parametrize(("tool", "fits"), [("EM6", True), ("EM12", False)])
def test_a_profile_round_an_inner_corner(tool: str, fits: bool) -> None:
    plan = one_setup([_step("10", "side_finish_milling", tool, [{"class": "profile_feature"}], bottom_z=-21)])
    plan["setups"][0]["workholding"].update(parallel_height=33, jaw_height=40)
    plan["workpiece"]["rawpiece"] = {"box": {"min": [-2, -2, -12], "max": [62, 42, 20]}}
    under = _step("10", "plane_finish_milling", "FM", [{"class": "planar_face", "normal": [0, 0, -1]}])
    flip = {
        "id": "S2",
        "origin": {"location": [0, 40, 0], "axis": [0, 0, -1], "ref_direction": [1, 0, 0]},
        "workholding": {**plan["setups"][0]["workholding"], "jaw_height": 41},
        "workingsteps": [under],
    }
    plan["setups"].append(flip)
    found = places(told(plan, _notched()))
    assert found == (set() if fits else {("fit.corner-radius", "S1", "10"), ("left.stock", "S1", "10")})


def test_a_bore_that_is_only_drilled_and_roughed_is_not_finished() -> None:
    part = _part(solid.cylinder((30, 20, -1), (30, 20, 21), 20))
    steps = [
        _step("10", "drilling", "D10", HOLE, overcut_length=1),
        _step("20", "bottom_and_side_rough_milling", "EM6", HOLE, allowance_side=0.3, overcut_length=1),
    ]
    found = places(told(one_setup(steps, D10), part))
    assert found == {("left.feature", "S1", "20"), ("left.stock", "S1", "20")}


@pytest.mark.parametrize(("bore", "value"), [(9.0, 2.5), (6.0, None)])
def test_a_spot_at_the_bottom_of_a_bore_is_told_a_depth_only_where_its_body_has_room(
    bore: float, value: float | None
) -> None:
    """A hole of 5 under a bore 8 deep; the 90 degree spot of 8 is as wide as the hole 2.5 deep, and its body fits into
    a bore of 9, not into one of 6 however deep it goes."""
    part = _part(solid.cylinder((30, 20, -1), (30, 20, 13), 5), solid.cylinder((30, 20, 12), (30, 20, 21), bore))
    spot = _step("10", "center_drilling", "SP", [{"class": "round_hole", "diameter": 5}], cutting_depth=3.5)
    (found,) = [f for f in told(one_setup([spot]), part) if f.code == "cut.gouge"]
    assert found.remedy is not None and found.remedy.value == (None if value is None else pytest.approx(value))
