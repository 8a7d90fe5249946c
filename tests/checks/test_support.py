"""What carries the stock in soft jaws, in a vee and on jacks; distances worked by hand."""

from __future__ import annotations

import pytest

from schemas.base import Frame
from schemas.finding import Finding
from tests.support.block import Json, as_step, judged, one_setup
from tests.support.plans import applied
from tests.support.plate import element, move, on_plate, plate, remove
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.planar import polygon
from worker.kernel.shape import Body
from worker.kernel.sweep import prism

HOLE = {"id": "10", "operation": "drilling", "tool": "D66", "features": [{"class": "round_hole"}], "overcut_length": 1}


def _support(plan: Json, part: bytes, files: dict[str, bytes] | None = None) -> list[Finding]:
    return [f for f in judged(plan, part, files)[0] if f.code == "hold.support"]


def _bar(hole: float = 40.0) -> bytes:
    """A bar of 30 mm, 100 long, lying along X with its axis at z = 15; a cross hole of 6.6 mm at x = ``hole``."""
    return as_step(
        boolean.cut(solid.cylinder((0, 0, 15), (100, 0, 15), 30), [solid.cylinder((hole, 0, -1), (hole, 0, 31), 6.6)])
    )


def _held(workholding: Json, hole: float = 40.0) -> tuple[Json, bytes]:
    plan = one_setup([HOLE])
    plan["workpiece"]["rawpiece"] = {"cylinder": {"diameter": 30, "from": [0, 0, 15], "to": [100, 0, 15]}}
    plan["setups"][0]["origin"] = {"location": [0, 0, 30], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]}
    plan["setups"][0]["workholding"] = workholding
    return plan, _bar(hole)


def _nest(offset: float, width: float = 40.0) -> Json:
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_height": 40, "jaws": "soft", "nest_depth": 12}
    return {**vise, "jaw_width": width, "jaw_offset": offset}


def test_a_bar_in_a_nest_under_its_middle() -> None:
    assert _support(*_held(_nest(0.0))) == []


def test_a_bar_that_hangs_out_of_its_nest() -> None:
    """The nest holds x = 60 to 100, the centre of mass of the whole bar is at 50."""
    found = [f for f in _support(*_held(_nest(30.0))) if f.level == "error"]
    assert [f.measured for f in found] == [pytest.approx(10.0, abs=0.05)]


def test_a_drill_far_outside_the_nest_is_a_warning() -> None:
    """Nest from x = 30 to 70, drill at 95: 25 mm outside, more than half of 40 mm."""
    found = _support(*_held(_nest(0.0), hole=95.0))
    assert [(f.level, f.workingstep, f.measured) for f in found] == [("warning", "10", pytest.approx(25.0, abs=0.1))]
    assert _support(*_held(_nest(0.0), hole=85.0)) == []


def test_a_nest_beside_the_bar_holds_nothing() -> None:
    """The nest's jaws, 40 wide, are 70.5 from the middle of a bar of 100: they begin half a millimetre past its end."""
    found = _support(*_held(_nest(70.5)))
    assert [(f.level, f.measured) for f in found] == [("error", 0.0)]


def _vee(low: float, high: float) -> Body:
    """A vee of 90 degrees in which the bar of 30 mm lies 15 sqrt 2 mm over the groove's bottom."""
    bottom = 15 - 15 * 2**0.5
    block = solid.box((low, -30, bottom - 10), (high, 30, 12))
    frame = Frame(location=(low - 1, 0, bottom), axis=(0, 1, 1), ref_direction=(1, 0, 0))
    return boolean.cut(block, [solid.box((0, -80, 0), (high - low + 2, 0, 80), frame)])


def _in_a_vee(low: float, high: float, hole: float = 40.0) -> tuple[Json, bytes, dict[str, bytes]]:
    place = {"location": [0, 0, -30], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]}
    held = {"type": "bodies", "bodies": [{"step": "vee", "name": "vee", "placement": place}]}
    plan, part = _held(held, hole)
    return plan, part, {"vee": as_step(_vee(low, high))}


def test_a_bar_in_a_vee_under_its_middle() -> None:
    assert _support(*_in_a_vee(20, 80)) == []


def test_a_bar_that_hangs_out_of_the_vee() -> None:
    found = _support(*_in_a_vee(60, 95))
    assert [(f.level, f.measured) for f in found if f.workingstep is None] == [("error", pytest.approx(10.0, abs=0.05))]


def test_a_vee_that_stands_in_the_bar() -> None:
    plan, part, files = _in_a_vee(20, 80)
    plan["setups"][0]["workholding"]["bodies"][0]["placement"]["location"] = [0, 0, -28]
    assert [f.message for f in _support(plan, part, files)] == ["Vee stands in the stock."]


def test_a_fixture_without_a_clamp_holds_nothing() -> None:
    plan = on_plate()
    remove(plan, "clamp 1", "clamp 2")
    found = [f for f in _support(plan, plate()) if f.level == "error"]
    assert ["Nothing presses" in f.message for f in found] == [True]


def test_a_clamp_beside_its_jacks_tips_the_stock() -> None:
    """Jacks to x = 10 and from x = 70; with those at the left moved in by 14, clamp 1 (to x = 8) presses outside."""
    plan = on_plate()
    for name in ("jack 6 6", "jack 6 44"):
        move(plan, name, x=14)
    assert element(plan, "jack 6 6")["cylinder"]["from"][0] == 20
    found = _support(plan, plate())
    assert [(f.level, f.measured) for f in found] == [("warning", pytest.approx(8.0, abs=0.05))]
    assert "Clamp 1" in found[0].message


def _stepped(y: float, **keys: float) -> list[Finding]:
    """60 x 40 x 30 without what lies beyond ``y`` in its lowest 5 mm, on parallels of 6 in jaws up to 20."""
    stock = boolean.cut(solid.box((0, 0, 0), (60, 40, 30)), [solid.box((-1, y, -1), (61, 41, 5))])
    part = as_step(boolean.cut(stock, [solid.cylinder((30, 12, -1), (30, 12, 31), 6.6)]))
    plan = one_setup([HOLE])
    plan["workpiece"]["rawpiece"] = {"step": "RAW"}
    plan["setups"][0]["origin"]["location"] = [0, 0, 30]
    plan["setups"][0]["workholding"] |= {"jaw_height": 50, **keys}
    return _support(plan, part, {"RAW": as_step(stock)})


def test_a_stock_on_one_parallel_tips_while_the_jaws_close() -> None:
    """A step from y = 30 on in a block of 40: the other parallel, from 34, meets nothing. The centre of mass lies at
    (40 x 30 x 20 - 10 x 5 x 35) / (40 x 30 - 10 x 5) = 19.348, 13.348 past a parallel of 6, and above one of 20."""
    (found,) = _stepped(30)
    assert (found.level, found.measured) == ("warning", pytest.approx(13.348, abs=1e-3))
    assert "parallel 1 alone" in found.message
    assert _stepped(30, parallel_thickness=20) == []
    assert _stepped(36) == []  # 2 mm of the other parallel under it


def test_parallels_that_do_not_stand_side_by_side() -> None:
    """Two of 6.1 between jaws 12 apart; what the plan does not say is not held against it."""

    def narrow(**keys: float) -> list[Finding]:
        stock = solid.box((0, 0, 0), (60, 12, 20))
        plan = one_setup([{**HOLE, "overcut_length": 0}])
        plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [60, 12, 20]}}
        plan["setups"][0]["workholding"] |= keys
        return _support(plan, as_step(boolean.cut(stock, [solid.cylinder((30, 6, 8), (30, 6, 21), 6.6)])))

    (found,) = narrow(parallel_thickness=6.1)
    assert found.remedy is not None and found.remedy.value == pytest.approx(6.0)
    assert narrow(parallel_thickness=6.0) == [] and narrow() == []


def _keel(low: float, high: float) -> Body:
    """60 long, 40 wide, 20 high; below z = 10 its sides come in to a flat from y = ``low`` to ``high``."""
    along = Frame(axis=(1, 0, 0), ref_direction=(0, 1, 0))
    outline = polygon([(0, 10), (low, 0), (high, 0), (40, 10), (40, 20), (0, 20)])
    return prism(outline, along, 0, 60)


@pytest.mark.parametrize(("flat", "thick"), [((6, 34), 9.0), ((18, 22), 20.0), ((24, 26), None)])
def test_parallels_beside_the_flat_are_told_how_thick_they_have_to_be(
    flat: tuple[float, float], thick: float | None
) -> None:
    """Against the jaws they stand under the slopes; 3 mm further in, or half of what is flat, they carry. Two of more
    than half the opening have no room."""
    plan, bar = one_setup([HOLE]), _keel(*flat)
    plan["workpiece"]["rawpiece"] = {"step": "bar"}
    plan["setups"][0]["origin"] = {"location": [0, 0, 20], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]}
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 39.9, "parallel_height": 20}
    plan["setups"][0]["workholding"] = {**vise, "parallel_thickness": 4}
    part = as_step(boolean.cut(bar, [solid.cylinder((30, 20, -1), (30, 20, 21), 6.6)]))
    (found,) = (f for f in _support(plan, part, {"bar": as_step(bar)}) if "nothing flat" in f.message)
    assert found.remedy and found.remedy.value == (pytest.approx(thick) if thick else None)
    if thick:
        mended = _support(applied(plan, found.remedy), part, {"bar": as_step(bar)})
        assert not any("nothing flat" in f.message for f in mended)


def test_a_round_bar_has_no_flat_that_any_parallels_reach() -> None:
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 40, "jaw_height": 40, "parallel_height": 20}
    (found,) = (f for f in _support(*_held({**vise, "parallel_thickness": 4})) if "nothing flat" in f.message)
    assert found.remedy and found.remedy.text == "Use soft jaws with a nest."
