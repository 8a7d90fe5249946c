"""Jaws that press a finished face beyond what it bears: area and force worked by hand."""

from __future__ import annotations

import pytest

from schemas.finding import Finding
from tests.support.block import Json, as_step, judged
from tests.support.trial import plan, setup, step, tool
from worker.kernel import boolean
from worker.kernel.primitives import box, cylinder

BEARS = 250.0
"""N/mm2 at which EN AW-6082 T6 yields (EN 755-2, usual value, from memory)."""
ROD, AREA = 12.0, 12.0 * 5.0
"""A bar of 12 x 10 stands out of the block's side; jaws that grip 5 mm meet 12 x 5 of its end."""
PART = boolean.cut(
    boolean.fuse([box((0, 0, 0), (60, 40, 30)), box((24, -8, 0), (24 + ROD, 0, 10))]),
    [cylinder((30, 20, -1), (30, 20, 31), 8)],
)
STOCK = boolean.fuse([PART, cylinder((30, 20, 0), (30, 20, 30), 8)])


def _marked(force: float, group: str | None = "N") -> list[Finding]:
    drill = {**tool("twist_drill", 8, SIG=118, LU=50), "stickout": 60}
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 80, "jaw_height": 45, "max_opening": 100}
    vise |= {"parallel_height": 40, "parallel_thickness": 4, "clamping_force": force}
    drilled = step("drilling", drill, {"class": "round_hole"}, overcut_length=1)
    document: Json = plan({"step": "RAW"}, setup([drilled], workholding=vise))
    document["workpiece"]["material"] = {"name": "EN AW-6082 T6", **({"iso513_group": group} if group else {})}
    found = judged(document, as_step(PART), {"RAW": as_step(STOCK)})[0]
    return [f for f in found if f.code == "hold.marked"]


def test_a_jaw_dents_what_yields_under_its_force() -> None:
    """The other jaw meets 60 x 5 and bears 75 kN: it leaves a mark, no dent."""
    holds = AREA * BEARS
    (dent,) = (f for f in _marked(holds + 1000) if f.limit is not None)
    assert (dent.measured, dent.limit, dent.unit) == (holds + 1000, pytest.approx(holds, rel=1e-3), "N")
    assert dent.remedy is not None and dent.remedy.pointer == "/setups/0/workholding/clamping_force"
    assert dent.remedy.value == pytest.approx(holds, rel=1e-3)
    assert [f.limit for f in _marked(dent.remedy.value)] == [None, None]


def _slips(feed: float, force: float, depth: float = 2.0) -> list[Finding]:
    """The same jaws; 2 mm is milled off the top."""
    light = {"spindle_speed": 6000, "feed_per_tooth": feed, "axial_cutting_depth": depth, "radial_cutting_depth": 6}
    mill = {**tool("endmill", 12, NOF=3, APMX=25), "stickout": 40}
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 80, "jaw_height": 45, "max_opening": 100}
    vise |= {"parallel_height": 40, "parallel_thickness": 4, "clamping_force": force, "jaw_surface": "smooth"}
    faced = step("plane_finish_milling", mill, {"class": "planar_face", "normal": [0, 0, 1]}, technology=light)
    document: Json = plan({"step": "RAW"}, setup([faced], workholding=vise))
    document["workpiece"]["material"] = {"name": "EN AW-6082 T6", "iso513_group": "N"}
    raw = boolean.fuse([PART, box((0, 0, 25), (60, 40, 32))])
    return [f for f in judged(document, as_step(PART), {"RAW": as_step(raw)})[0] if f.code == "hold.slip"]


def test_more_force_is_advised_up_to_what_a_finished_face_bears() -> None:
    """It yields at 15 kN (60 mm2 at 250 N/mm2): what a heavier cut asks for beyond that goes by a lighter one alone,
    though it is less than twice the stated force."""
    (light,), (heavy,) = _slips(0.1, 12000), _slips(0.15, 12000)
    assert light.remedy is not None and light.remedy.unit == "N"
    assert light.remedy.value is not None and 12000 < light.remedy.value < AREA * BEARS
    assert _slips(0.1, light.remedy.value) == []
    assert heavy.remedy is not None and heavy.remedy.unit == "mm" and "dents" in heavy.remedy.text
    assert heavy.remedy.value is not None and _slips(0.15, 12000, heavy.remedy.value) == []


def test_a_material_that_nobody_states_bears_nobody_knows_what() -> None:
    assert [f.limit for f in _marked(1e5, None)] == [None, None]
