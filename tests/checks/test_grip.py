"""The height that jaws grip where grooves run along the clamped faces, worked by hand."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from schemas.finding import Finding
from tests.support.block import Json, as_step, told
from tests.support.trial import plan, setup, step, tool
from worker.kernel import boolean
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

Grooves = list[tuple[float, float]]


def _block(*grooves: tuple[float, float], end: float = 61) -> Body:
    """60 x 40 x 30 with grooves of 2 in the side y = 0, each from one height to another, up to x = ``end``."""
    cuts = [box((-1, -1, low), (end, 2, high)) for low, high in grooves]
    return boolean.cut(box((0, 0, 0), (60, 40, 30)), cuts) if cuts else box((0, 0, 0), (60, 40, 30))


def _told(stock: Body, grip: float, parallels: float = 40, **limits: float) -> list[Finding]:
    """What hold.grip says of jaws that reach so far up the stock, in which a hole is drilled."""
    part = boolean.cut(stock, [cylinder((30, 20, -1), (30, 20, 31), 8)])
    drill = {**tool("twist_drill", 8, SIG=118, LU=50), "stickout": 60}
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 80, "jaw_height": parallels + grip, "max_opening": 100}
    vise |= {"parallel_height": parallels, "parallel_thickness": 4}
    drilled = step("drilling", drill, {"class": "round_hole"}, overcut_length=1)
    document: Json = plan({"step": "RAW"}, setup([drilled], workholding=vise))
    document["policy"] = {"limits": limits}
    return [f for f in told(document, as_step(part), {"RAW": as_step(stock)}) if f.code == "hold.grip"]


@pytest.mark.parametrize(
    ("grooves", "grip", "held"),
    [
        ([], 5, 5),
        ([(1, 4)], 5, 2),  # 0 to 1 and 4 to 5
        ([(1, 4)], 6.1, 3.1),
        ([(1, 2), (3, 4)], 5, 3),  # three strips of 1
        ([(2, 9)], 8, 2),  # the upper strip begins above the jaws
        ([(0, 3)], 5.9, 2.9),  # the lowest 3 mm are open
    ],
)
def test_a_groove_between_two_strips_is_not_gripped(grooves: Grooves, grip: float, held: float) -> None:
    found = _told(_block(*grooves), grip)
    assert [f.measured for f in found] == ([pytest.approx(held, abs=1e-6)] if held < 3 else [])


def test_a_groove_that_ends_within_the_jaws_leaves_the_height_gripped_beyond_its_end() -> None:
    assert _told(_block((1, 4), end=40), 5) == []


def test_jaws_as_high_as_told_grip_enough() -> None:
    """Strips of 2 below and from 9 up: the third millimetre ends at 10, 4 above the jaws' top at 6."""
    (found,) = _told(_block((2, 9)), 6)
    assert found.remedy is not None and found.remedy.pointer.endswith("/parallel_height")
    assert found.remedy.value == pytest.approx(36)
    assert _told(_block((2, 9)), 46 - 36, parallels=36) == []
    assert len(_told(_block((2, 9)), 9.9)) == 1
    # 30 less 7 in all: no jaws grip 24 of it
    (none,) = _told(_block((2, 9)), 6, least_grip_depth=24)
    assert none.remedy is not None and none.remedy.value is None


@pytest.mark.parametrize("degrees", [0.5, 2.0])
def test_a_face_that_leans_is_told_with_its_angle(degrees: float) -> None:
    """The face at y = 40 turned about X: the jaw meets its upper edge alone."""
    tangent = math.tan(math.radians(degrees))
    place = Frame(location=(0, 40, 0), axis=(0, 1, tangent), ref_direction=(1, 0, 0))
    stock = boolean.cut(box((0, 0, 0), (60, 45, 30)), [box((-1, -90, 0), (61, 90, 50), place)])
    part = boolean.cut(stock, [cylinder((30, 20, -1), (30, 20, 31), 8)])
    drilled = step("drilling", {**tool("twist_drill", 8, SIG=118, LU=50), "stickout": 60}, {"class": "round_hole"})
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 80, "jaw_height": 50, "parallel_height": 30}
    found = told(plan({"step": "RAW"}, setup([drilled], workholding=vise)), as_step(part), {"RAW": as_step(stock)})
    (faces,) = [f for f in found if f.code == "hold.faces"]
    assert f"leans by {degrees:g} degrees" in faces.message


@pytest.mark.parametrize(("opening", "other"), [(100, "X"), (30, None)])
def test_the_other_axis_is_looked_at_below_the_jaws_top(opening: float, other: str | None) -> None:
    """A stem 40 long between flats, with a round of 24 across its middle, under a block that overhangs it: jaws along Y
    meet the round, along X the flats, where they open as far."""
    stem = boolean.fuse([box((10, 12, 0), (50, 28, 11)), cylinder((30, 20, 0), (30, 20, 11), 24)])
    stock = boolean.fuse([stem, box((0, 0, 10), (60, 40, 30))])
    part = boolean.cut(stock, [cylinder((30, 20, -1), (30, 20, 31), 8)])
    drilled = step("drilling", {**tool("twist_drill", 8, SIG=118, LU=50), "stickout": 60}, {"class": "round_hole"})
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 80, "jaw_height": 45, "parallel_height": 40,
            "parallel_thickness": 4, "max_opening": opening}  # fmt: skip
    document: Json = plan({"step": "RAW"}, setup([drilled], workholding=vise))
    (found,) = [f for f in told(document, as_step(part), {"RAW": as_step(stock)}) if f.code == "hold.faces"]
    assert found.remedy is not None and found.remedy.value == other
    document["setups"][0]["workholding"]["jaw_axis"] = "X"
    assert "hold.faces" not in {f.code for f in told(document, as_step(part), {"RAW": as_step(stock)})}
