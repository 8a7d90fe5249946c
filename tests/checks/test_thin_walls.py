"""Thin walls on the metal of each setup: what a step leaves, what the jaws press on, and what may well be thin."""

from __future__ import annotations

import pytest

from schemas.finding import Finding
from tests.support.block import Json, as_step, judged, one_setup
from tests.support.plans import applied
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body

EM4: Json = {"id": "EM4", "type": "endmill", "DC": 4, "APMX": 25, "LU": 30, "stickout": 40}
BLOCK = solid.box((0, 0, 0), (60, 40, 20))


def _pocket(low: tuple[float, float], high: tuple[float, float], floor: float) -> Body:
    """A pocket with corners of 2 mm, open upwards."""
    (x0, y0), (x1, y1), r = low, high, 2.0
    posts = [solid.cylinder((x, y, floor), (x, y, 21), 2 * r) for x in (x0 + r, x1 - r) for y in (y0 + r, y1 - r)]
    flats = [solid.box((x0 + r, y0, floor), (x1 - r, y1, 21)), solid.box((x0, y0 + r, floor), (x1, y1 - r, 21))]
    return boolean.fuse([*flats, *posts])


def _step(id: str, features: list[Json], **keys: object) -> Json:
    found: Json = {"id": id, "operation": "bottom_and_side_finish_milling", "tool": "EM4", "features": features}
    return {**found, **keys}


def _thin(plan: Json, part: Body) -> list[Finding]:
    return [f for f in judged(plan, as_step(part))[0] if f.code == "wall.thin"]


POCKETS = [{"class": "closed_pocket"}]


@pytest.mark.parametrize(("thick", "told"), [(0.8, [0.8]), (1.0, []), (1.2, [])])
def test_a_rib_between_two_pockets(thick: float, told: list[float]) -> None:
    left, right = _pocket((5, 5), (30 - thick / 2, 35), 8), _pocket((30 + thick / 2, 5), (55, 35), 8)
    found = _thin(one_setup([_step("10", POCKETS)], EM4), boolean.cut(BLOCK, [left, right]))
    assert [f.measured for f in found] == [pytest.approx(t) for t in told]
    assert all(f.workingstep == "10" and f.at and f.at.part[0] == pytest.approx(30) for f in found)


def test_the_floor_over_a_cavity_that_is_there_already() -> None:
    """A slot from below, then a pocket from above: 0.7 mm stand between them, told of the step that makes it so."""
    below = solid.box((-1, 15, -1), (61, 25, 7.3))
    plan = one_setup([_step("10", [{"class": "slot"}])], EM4)
    top = plan["setups"][0]
    flipped = {"location": [0, 40, 0], "axis": [0, 0, -1], "ref_direction": [1, 0, 0]}
    plan["setups"] = [{**top, "origin": flipped}, {**top, "id": "S2", "workingsteps": [_step("20", POCKETS)]}]
    found = _thin(plan, boolean.cut(BLOCK, [below, _pocket((5, 5), (55, 35), 8)]))
    assert [(f.setup, f.workingstep, f.measured) for f in found] == [("S2", "20", pytest.approx(0.7))]
    assert found[0].at and found[0].at.part[2] == pytest.approx(7.65)


def test_a_skin_that_a_later_setup_takes_may_be_thin() -> None:
    """A window milled through the part leaves 0.6 mm of stock below it, which is faced off from the other side."""
    window = boolean.cut(BLOCK, [_pocket((5, 5), (30, 35), -1)])
    plan = one_setup([_step("10", [{"at": [5, 20, 10]}])], EM4)
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, -0.6], "max": [60, 40, 20]}}
    assert _thin(plan, window) == []


def _beside_the_jaw(wall: float, jaws: str) -> tuple[Json, Body]:
    """A pocket ``wall`` mm from the side at y = 0; the second setup grips that side, upside down."""
    part = boolean.cut(BLOCK, [_pocket((15, wall), (45, 30), 8), solid.cylinder((8, 20, -1), (8, 20, 21), 6.6)])
    plan = one_setup([_step("10", POCKETS)], EM4)
    top = plan["setups"][0]
    held = {**top["workholding"], **({"jaws": "soft", "nest_depth": 8} if jaws == "soft" else {})}
    hole = {"id": "20", "operation": "drilling", "tool": "D66", "features": [{"class": "round_hole"}]}
    below = {"location": [0, 40, 0], "axis": [0, 0, -1], "ref_direction": [1, 0, 0]}
    plan["setups"].append({"id": "S2", "origin": below, "workholding": held, "workingsteps": [hole]})
    return plan, part


@pytest.mark.parametrize("jaws", ["hard", "soft"])
def test_jaws_on_a_thin_wall(jaws: str) -> None:
    plan, part = _beside_the_jaw(0.8, jaws)
    found = _thin(plan, part)
    assert [(f.setup, f.workingstep, f.measured) for f in found] == [
        ("S1", "10", pytest.approx(0.8)),
        ("S2", None, pytest.approx(0.8)),
    ]
    assert "Moving jaw" in found[1].message
    assert [f.setup for f in _thin(applied(plan, found[1].remedy), part)] == ["S1"]


def test_jaws_on_a_stout_wall() -> None:
    assert _thin(*_beside_the_jaw(1.2, "soft")) == []


def _tray(force: float, wall: float, *, upright: bool = False, grip: float = 10.0, group: str = "P") -> list[Finding]:
    """A tray of 100 x 60 x 40 with a floor of 10, on its rim or on its floor, in jaws of that force; a hole drilled."""
    tray = boolean.cut(solid.box((0, 0, 0), (100, 60, 40)), [solid.box((wall, wall, 10), (100 - wall, 60 - wall, 41))])
    plan = one_setup([{"id": "10", "operation": "drilling", "tool": "D66", "features": [{"class": "round_hole"}]}])
    plan["workpiece"] = {"rawpiece": {"step": "RAW"}, "material": {"name": "steel", "iso513_group": group}}
    top = plan["setups"][0]
    up, at = ([0, 0, 1], [0, 0, 40]) if upright else ([0, 0, -1], [0, 60, 0])
    top["origin"] = {"location": at, "axis": up, "ref_direction": [1, 0, 0]}
    top["workholding"] |= {"clamping_force": force, "jaw_height": 30 + grip, "jaw_width": 120}
    part = boolean.cut(tray, [solid.cylinder((50, 30, -1), (50, 30, 11), 6.6)])
    found = judged(plan, as_step(part), {"RAW": as_step(tray)})[0]
    return [f for f in found if f.code == "wall.thin"]


def test_jaws_over_a_hollow_crush_its_walls() -> None:
    """Rim of 3 mm, grip 10: two end walls carry straight, 2 x 3 x 10 mm2; the side walls bend, held at the floor 30
    away: (100 - 6) x 10 x (3 / 30)^2 / 3. Both at 235 N/mm2 (EN 10025, S235; beams by the closed forms). The hole in
    the floor counts as part of the hollow: less than 1 %."""
    bears = 235 * (2 * 3 * 10 + 94 * 10 * (3 / 30) ** 2 / 3)
    (found,) = _tray(20000, 3)
    assert found.unit == "N" and found.limit == pytest.approx(bears, rel=2e-3)
    assert found.at is not None and found.at.part[2] == pytest.approx(35, abs=0.1)
    assert _tray(found.remedy.value, 3) == [] and len(_tray(found.limit * 1.001, 3)) == 1
    assert _tray(20000, 3, group="S") == []  # 800 N/mm2
    assert _tray(20000, 8) == []  # 160 mm2 carry straight


def test_a_floor_between_the_jaws_carries_their_force() -> None:
    """On its floor, 10 high and 100 long: 1000 mm2 carry straight, whatever the walls above it."""
    assert _tray(20000, 2, upright=True, grip=30) == []


def test_a_block_that_is_hollowed_out_between_the_jaws() -> None:
    """Jaws of 20 mm length meet the middle of the block from 10 to 16 high; the pocket's floor lies at 8. Before it is
    cut all of it carries; after it walls of 2 mm bend, no end wall stands between the jaws."""
    part = boolean.cut(BLOCK, [_pocket((5, 2), (55, 38), 8)])
    plan = one_setup([_step("10", POCKETS)], EM4)
    plan["workpiece"]["material"] = {"name": "steel", "iso513_group": "P"}
    plan["setups"][0]["workholding"] |= {"jaw_width": 20, "jaw_height": 46, "clamping_force": 50000}
    (found,) = _thin(plan, part)
    floor, walls = 20 * 8, 20 * 8 * max((2 / 12) ** 2 / 3, 2 * (2 / 50) ** 2)
    assert found.workingstep == "10" and found.limit == pytest.approx(235 * (floor + walls), rel=2e-2)
    plan["setups"][0]["workholding"] |= {"clamping_force": found.remedy.value}
    assert _thin(plan, part) == []


def test_a_wall_beside_small_steps_is_one_wall() -> None:
    """Steps 0.2 high and 0.1 wide beside a bore: 0.6 mm at the top, 0.7 and 0.8 below it."""
    stairs = [solid.box((30.4 + 0.1 * k, -1, 19.8 - 0.2 * k), (61, 41, 21)) for k in range(3)]
    stock = boolean.cut(BLOCK, stairs)
    part = boolean.cut(stock, [solid.cylinder((25.8, 20, -1), (25.8, 20, 21), 8)])
    plan = one_setup([{"id": "10", "operation": "drilling", "tool": "D8", "features": [{"class": "round_hole"}]}])
    plan["workpiece"]["rawpiece"] = {"step": "RAW"}
    found = [f for f in judged(plan, as_step(part), {"RAW": as_step(stock)})[0] if f.code == "wall.thin"]
    assert [f.measured for f in found] == [pytest.approx(0.6)]


def test_a_hollow_that_opens_to_a_jaw_has_no_wall_to_speak_of() -> None:
    """A bore of 16 that lies 6 behind the fixed jaw and runs out at both ends: its lips begin at nothing, and 2 mm
    above and below it carry straight (EN 10025, S235)."""
    stock = boolean.cut(BLOCK, [solid.cylinder((-1, 6, 10), (61, 6, 10), 16)])
    part = boolean.cut(stock, [solid.cylinder((30, 30, -1), (30, 30, 21), 6.6)])
    plan = one_setup([{"id": "10", "operation": "drilling", "tool": "D66", "features": [{"diameter": 6.6}]}])
    plan["workpiece"] = {"rawpiece": {"step": "RAW"}, "material": {"name": "steel", "iso513_group": "P"}}
    plan["setups"][0]["workholding"] |= {"clamping_force": 100000, "jaw_height": 50}
    found = [f for f in judged(plan, as_step(part), {"RAW": as_step(stock)})[0] if f.unit == "N"]
    (crushed,) = [f for f in found if f.code == "wall.thin"]
    assert "opens to a jaw" in crushed.message and " 0 mm" not in crushed.message
    straight, beside_the_hole = 2 * 2 * (60 - 6.6), 6.6 * (20 - 2 * (8**2 - 6**2) ** 0.5)  # stout walls there
    assert crushed.limit == pytest.approx(235 * (straight + beside_the_hole), rel=1e-3)


@pytest.mark.parametrize(("wide", "force"), [(6, 30000), (6, 130000), (14, 30000)])
def test_all_of_the_jaws_force_goes_through_a_neck(wide: int, force: int) -> None:
    """A bar between two heads, 6 or 14 x 12 mm with air all round it: all of the force goes through its section, at
    235 N/mm2 (EN 10025, S235; force over area). What the jaws meet, 60 x 8 mm, bears 113 kN."""
    bar = solid.box((30 - wide / 2, 9, 4), (30 + wide / 2, 31, 16))
    stock = boolean.cut(BLOCK, [boolean.cut(solid.box((-1, 10, -1), (61, 30, 21)), [bar])])
    part = boolean.cut(stock, [solid.cylinder((30, 35, -1), (30, 35, 21), 6.6)])
    plan = one_setup([{"id": "10", "operation": "drilling", "tool": "D66", "features": [{"class": "round_hole"}]}])
    plan["workpiece"] = {"rawpiece": {"step": "RAW"}, "material": {"name": "steel", "iso513_group": "P"}}
    plan["setups"][0]["workholding"] |= {"clamping_force": force}
    found = [f for f in judged(plan, as_step(part), {"RAW": as_step(stock)})[0] if f.code == "wall.thin"]
    assert [f.limit for f in found] == ([pytest.approx(235 * 6 * 12)] if wide == 6 else [])
    assert all(f.at is not None and f.at.part[:1] == pytest.approx((30,)) for f in found)
