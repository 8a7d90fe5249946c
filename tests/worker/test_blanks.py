"""Blanks and masses as the plan states them, by hand: sides of boxes, d^2 pi / 4 of bars, kg of kg/m3."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest

from tests.support.examples import document, part_bytes
from tests.support.plate import on_plate, plate
from tests.support.trial import Json
from worker.inputs import read_inputs
from worker.kernel import measure
from worker.pipeline import check_plan


def blank(rawpiece: Json, files: dict[str, bytes] | None = None) -> tuple[float, tuple[Any, Any]]:
    """Volume and corners of the blank of the plate, which is 80 x 50 x 10 from the origin."""
    plan = on_plate()
    plan["workpiece"]["rawpiece"] = rawpiece
    body = read_inputs(plate(), json.dumps(plan).encode(), files or {}).rawpiece
    box = measure.bounding_box(body)
    return measure.volume(body), (box.min, box.max)


def test_an_allowance_is_metal_on_each_side_of_the_parts_box() -> None:
    volume, (low, high) = blank({"box": {"allowance": [[1, 2], [3, 4], [0, 5]]}})
    assert volume == pytest.approx(83 * 57 * 15, rel=1e-9)
    assert low == pytest.approx((-1, -3, 0), abs=1e-6)
    assert high == pytest.approx((82, 54, 15), abs=1e-6)


def test_an_allowance_in_inch_is_converted_once() -> None:
    plan = document("pump_flange_inch")  # the part is 4 x 3 x 1 in
    plan["workpiece"]["rawpiece"] = {"box": {"allowance": [[0.1, 0.1], [0.1, 0.1], [0, 0.25]]}}
    body = read_inputs(part_bytes("pump_flange_inch"), json.dumps(plan).encode(), {}).rawpiece
    assert measure.volume(body) == pytest.approx(4.2 * 3.2 * 1.25 * 25.4**3, rel=1e-9)


def test_a_bar_and_a_file() -> None:
    bar = {"cylinder": {"diameter": 100, "from": [40, 25, -3], "to": [40, 25, 12]}}
    assert blank(bar)[0] == pytest.approx(math.pi / 4 * 100**2 * 15, rel=1e-9)
    pocket = (20 * 14 - (4 - math.pi) * 4**2) * 4  # 20 x 14, corner radius 4, 4 deep
    holes = 2 * math.pi / 4 * 6**2 * 10
    assert blank({"step": "cast"}, {"cast": plate()})[0] == pytest.approx(80 * 50 * 10 - pocket - holes, rel=1e-9)


def test_masses_follow_the_density_and_are_absent_without_one() -> None:
    plan = on_plate()
    plan["workpiece"]["material"] = {"name": "brass", "density_kg_m3": 8500}
    report = check_plan(plate(), json.dumps(plan).encode(), {}).report
    assert report.part.material == "brass"
    for told in (report.part, report.setups[0].as_is, report.setups[0].to_be):
        assert told.volume is not None and told.mass == pytest.approx(told.volume * 8500e-9, rel=1e-12)
    assert report.setups[0].as_is.mass == pytest.approx(0.08 * 0.05 * 0.01 * 8500, rel=1e-9)
    del plan["workpiece"]["material"]
    bare = check_plan(plate(), json.dumps(plan).encode(), {})
    assert (bare.report.part.material, bare.report.part.mass, bare.report.setups[0].to_be.mass) == (None, None, None)


@pytest.mark.parametrize(("length", "words"), [(200.0, "Let D6 stand out"), (15.0, "No stick-out of D6 does")])
def test_a_tool_too_short_for_the_stickout_it_needs_is_to_be_replaced(length: float, words: str) -> None:
    """Plate of 10 with 1 of overcut and the point below it, clamps 12 high beside: more than 20 has to stand out."""
    plan = on_plate()
    plan["tools"][0] |= {"stickout": 12, "LU": 12, "OAL": length, "holder": [{"diameter": 40, "length": 40}]}
    report = check_plan(plate(), json.dumps(plan).encode(), {}).report
    told = [f for f in report.findings if f.code == "reach.stickout"]
    assert [f.workingstep for f in told] == ["10"]
    assert told[0].remedy is not None and told[0].remedy.text.startswith(words)


@pytest.mark.parametrize(("parallels", "told"), [(20, True), (34, False), (0, False)])
def test_parallels_beside_soft_jaws_are_said_to_do_nothing(parallels: float, told: bool) -> None:
    """The nest's floor stands 40 - 6 above the bed: parallels of that height say the same, others nothing."""
    plan = on_plate()
    plan["setups"][0]["workholding"] = {
        "type": "vise", "jaw_axis": "X", "jaw_width": 100, "jaw_height": 40, "jaws": "soft", "nest_depth": 6,
        "parallel_height": parallels,
    }  # fmt: skip
    notes = read_inputs(plate(), json.dumps(plan).encode(), {}).notes
    assert any("parallel_height" in note for note in notes) is told
