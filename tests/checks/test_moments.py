"""Moments with which a cut turns or tips what is clamped, against upper bounds worked by hand (statics)."""

from __future__ import annotations

import pytest

from examples.shapes import box, cut, cylinder, fuse
from schemas.finding import Finding
from tests.support.block import Json, judged
from tests.support.trial import plan, raw_box, setup, step, step_bytes, tool
from tests.support.undercut import RAW, t_mill, t_slot

MU, SAFETY = 0.10, 2.0
"""Smooth jaws on machined steel; smallest safety (works standard RN-1391, Tables 4 and 5)."""
LIGHT = {"spindle_speed": 3820, "feed_per_tooth": 0.05, "axial_cutting_depth": 5, "radial_cutting_depth": 4}
MILL: Json = {**tool("endmill", 10, NOF=4, APMX=20), "stickout": 40}
BASE: Json = {"type": "plate", "name": "base", "box": {"min": [-40, -40, -300], "max": [200, 200, -20]}}


def _slips(part: object, document: Json, stock: object = None) -> list[Finding]:
    document["workpiece"]["material"] = {"name": "steel", "iso513_group": "P"}
    files = {} if stock is None else {"RAW": step_bytes(stock)}
    return [f for f in judged(document, step_bytes(part), files)[0] if f.code == "hold.slip"]


def _strap(name: str, x: tuple[float, float], y: tuple[float, float], force: float | None, z: float = 0.0) -> Json:
    found: Json = {"type": "clamp", "name": name, "box": {"min": [x[0], y[0], z], "max": [x[1], y[1], z + 12]}}
    return found if force is None else {**found, "force": force}


def _pocketed(*elements: Json) -> list[Finding]:
    """A plate of 100 x 60 x 20 on a base, a pocket 40 x 20 and 10 deep milled in its middle."""
    hollow = fuse(box((30, 20, 10), (70, 40, 21)), *(cylinder((x, 30, 10), (x, 30, 21), 20) for x in (30, 70)))
    mill = step("bottom_and_side_finish_milling", MILL, {"at": [50, 30, 10]}, technology=LIGHT)
    held = {"type": "fixture_plate", "elements": [BASE, *elements]}
    document = plan(raw_box((0, 0, 0), (100, 60, 20)), setup([mill], location=[0, 0, 20], workholding=held))
    return _slips(cut(box((0, 0, 0), (100, 60, 20)), hollow), document)


def test_two_straps_at_one_end_let_the_plate_turn() -> None:
    """Straps on x = 0 to 4, y = 0 to 20 and 40 to 60, 5 kN each: their middle is (2, 30), their farthest points lie
    hypot(2, 30) from it: 2 x 2 x 0.1 x 5000 x 30.067 / 2 = 30.07 N m at most. The pocket ends at x = 80."""
    ends = [_strap("a", (-20, 4), (0, 20), 5000), _strap("b", (-20, 4), (40, 60), 5000)]
    (found,) = _pocketed(*ends)
    assert found.unit == "N m" and found.limit == pytest.approx(4 * MU * 5000 * 30.067 / SAFETY / 1000, abs=0.06)
    assert found.at is not None and found.at.part[0] == pytest.approx(80, abs=0.5)
    assert _pocketed(_strap("a", (-20, 4), (20, 40), 5000), _strap("b", (96, 120), (20, 40), 5000)) == []


def test_bolts_and_clamps_count_once_and_only_where_they_press() -> None:
    """896.7 N of cut want 8967 N of clamping: 2 x 0.1 x F / 2. A stud's force is its clamp's; a clamp that stands off
    holds nothing; where a force is not stated, nothing is estimated."""
    sides = ((-20.0, 8.0), (92.0, 120.0))
    stud = {"type": "bolt", "name": "s", "cylinder": {"diameter": 8, "from": [-10, 30, -20], "to": [-10, 30, 20]}}
    a, b = (_strap(n, x, (20, 40), 4400) for n, x in zip("ab", sides, strict=True))
    assert [f.limit for f in _pocketed(a, b, {**stud, "force": 9000})] == [pytest.approx(880.0)]
    bare = {k: v for k, v in a.items() if k != "force"}
    assert _pocketed(bare, b, {**stud, "force": 4600}) == []
    assert [f.limit for f in _pocketed(bare, b, {**stud, "force": 4000})] == [pytest.approx(840.0)]
    assert _pocketed(bare, b) == []
    off = _strap("off", (-20, 8), (45, 60), 9000, z=1)
    assert [f.limit for f in _pocketed(a, b, off)] == [pytest.approx(880.0)]


def _column(force: float, *more: Json) -> list[Finding]:
    """A post of 40 x 40 x 150 on a flange of 100 x 40 x 20; its top is milled, straps hold the flange's ends."""
    part = fuse(box((0, 0, 0), (100, 40, 20)), box((30, 0, 20), (70, 40, 150)))
    stock = fuse(box((0, 0, 0), (100, 40, 20)), box((30, 0, 20), (70, 40, 155)))
    top = step("plane_finish_milling", MILL, {"class": "planar_face", "at": [50, 20, 150]}, technology=LIGHT)
    straps = [_strap("a", (-20, 10), (10, 30), force), _strap("b", (90, 120), (10, 30), force)]
    held = {"type": "fixture_plate", "elements": [BASE, *straps, *more]}
    document = plan({"step": "RAW"}, setup([top], location=[0, 0, 20], workholding=held))
    return _slips(part, document, stock)


def test_a_tall_part_tips_over_its_edge() -> None:
    """The pass lies 152.5 above the base. Over the long edges each strap holds at its far side,
    30 off: 2 F x 30 / 2."""
    (found,) = _column(4580)
    assert "tips it over its edge" in found.message and found.unit == "N m"
    assert found.limit == pytest.approx(2 * 4580 * 30 / SAFETY / 1000, abs=0.02)
    needed = found.measured / found.limit * 4580
    assert len(_column(needed * 0.995)) == 1 and _column(needed * 1.005) == []
    beside = [{"type": "locator", "name": f"wall {y}", "box": {"min": [35, y, -20], "max": [65, y + 20, 100]}}
              for y in (-20, 40)]  # fmt: skip
    assert _column(needed * 0.995, *beside) == []


def test_a_thin_plate_on_edge_folds_over_the_jaw() -> None:
    """Grip 10, 12 thick, 150 long, F 22 kN: F (g + mu w) / S = 22000 x (10 + 1.2) / 2 = 123.2 N m, about an edge that
    the middle of the pass lies 107.5 above; along the jaws 2 mu F a / S = 165 N m hold it over 112.5."""
    part = box((0, 0, 0), (150, 12, 115))
    heavy = {**LIGHT, "feed_per_tooth": 0.15, "radial_cutting_depth": 5}
    top = step("plane_finish_milling", MILL, {"class": "planar_face", "normal": [0, 0, 1]}, technology=heavy)
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 160, "jaw_height": 40, "parallel_height": 30}

    def slips(force: float) -> list[Finding]:
        held = {**vise, "parallel_thickness": 2, "clamping_force": force}
        return _slips(part, plan(raw_box((0, 0, 0), (150, 12, 120)), setup([top], workholding=held)))

    (found,) = slips(22000)
    assert "over a jaw's edge" in found.message and found.limit == pytest.approx(123.2, abs=0.01)
    assert found.measured * 1000 / 107.5 < 2 * MU * 22000 / SAFETY  # it does not slide
    needed = found.measured / found.limit * 22000
    assert len(slips(needed * 0.99)) == 1 and slips(needed * 1.01) == []


def test_a_drill_turns_a_plate_under_one_clamp() -> None:
    """10 mm drill, 118 degrees, fn 0.2: h = 0.1 sin 59, kc = kc1.1 h^-mc, Mc = fn DC^2 kc / 8000 N m, Ff = 0.5 kc DC/2
    fn sin 59 (Kienzle, as printed in tool makers' guides). Against it: the clamp's farthest point, hypot(2, 2) from
    its middle, both faces; thrust times mu times the distance of the hole, 88."""
    part = cut(box((0, 0, 0), (100, 40, 20)), cylinder((90, 20, -1), (90, 20, 21), 10))
    drill = {**tool("twist_drill", 10, SIG=118, LU=60), "stickout": 80}
    fed = {"spindle_speed": 800, "feed_per_rev": 0.2}
    work = step("drilling", drill, {"class": "round_hole"}, technology=fed)

    def slips(force: float) -> list[Finding]:
        held = {"type": "fixture_plate", "elements": [BASE, _strap("a", (-20, 4), (18, 22), force)]}
        return _slips(
            part, plan(raw_box((0, 0, 0), (100, 40, 20)), setup([work], location=[0, 0, 20], workholding=held))
        )

    (found,) = slips(500)
    thrust = (found.limit * SAFETY * 1000 - 2 * MU * 500 * 8**0.5) / (MU * 88)
    # Mc = fn DC^2 kc / 8, Ff = kc DC fn sin 59 / 4: their ratio is DC / (2 sin 59)
    assert found.measured * 1000 / thrust == pytest.approx(10 / (2 * 0.857167), rel=5e-3)
    assert slips(60000) == []


def test_a_t_slot_cutter_that_pushes_too_hard_is_to_feed_less() -> None:
    """It cuts as high as it is: no thinner pass helps. F goes with h^(1 - mc), so the feed told is just held."""
    fed = {"spindle_speed": 400, "feed_per_tooth": 0.05, "axial_cutting_depth": 8, "radial_cutting_depth": 18}
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 50, "parallel_height": 35}
    straight = step("bottom_and_side_finish_milling", tool("endmill", 10), {"class": "slot"})
    head = step("bottom_and_side_finish_milling", {**t_mill(), "NOF": 6}, {"class": "slot"}, technology=fed)
    document = plan(RAW, setup([straight, head], workholding={**vise, "clamping_force": 20000}))
    (found,) = _slips(t_slot(), document)
    assert found.remedy is not None and found.remedy.pointer.endswith("/technology/feed_per_tooth")
    fed["feed_per_tooth"] = found.remedy.value
    assert _slips(t_slot(), document) == []
    fed["feed_per_tooth"] = found.remedy.value + 2e-4
    assert len(_slips(t_slot(), document)) == 1
