"""Where a finding points and which axis it advises, on a plate of 40 x 30 x 10 whose top edge at x = 40 is broken."""

from __future__ import annotations

import pytest

from examples.shapes import Shape, box, cut, polygon, prism
from schemas.finding import Finding
from tests.support.block import Json, judged
from tests.support.trial import FAR_PLATE, plan, setup, step, step_bytes, tool
from worker.kernel import primitives as solid
from worker.kernel.boolean import cut as less
from worker.kernel.measure import contains, place_in

TOP: Json = {"class": "planar_face", "normal": [0, 0, 1]}
BROKEN: Json = {"class": "chamfer"}
BLANK: Json = {"box": {"min": [0, 0, 0], "max": [40, 30, 12]}}


def plate() -> Shape:
    corner = prism(polygon([(39, -1, 10), (41, -1, 10), (41, -1, 8)]), (0, 32, 0))
    return cut(box((0, 0, 0), (40, 30, 10)), corner)


def found(axis: tuple[float, float, float]) -> list[Finding]:
    mill, cutter = tool("endmill", 10), tool("chamfer_mill", 6, SIG=90)
    steps = [step("plane_finish_milling", mill, TOP), step("chamfering", cutter, BROKEN)]
    document = plan(BLANK, setup(steps, axis=axis, workholding=FAR_PLATE))
    return list(judged(document, step_bytes(plate()))[0])


def test_one_axis_is_advised_for_all_that_it_serves() -> None:
    # The chamfer is seen from 45 degrees as well; the face on the same side is not.
    remedies = [f.remedy for f in found((0, 0, -1)) if f.code == "access.hidden"]
    assert [r.text if r else "" for r in remedies] == ["Cut it in a setup whose axis is [0, 0, 1]."] * 2


@pytest.mark.parametrize("bore", [20.0, 8.0])
def test_a_ring_is_shown_by_a_place_on_it(bore: float) -> None:
    tube = less(solid.cylinder((0, 0, 0), (0, 0, 5), 24), [solid.cylinder((0, 0, -1), (0, 0, 6), bore)])
    x, y, z = place_in(tube)
    assert bore / 2 - 1e-6 <= (x * x + y * y) ** 0.5 <= 12 + 1e-6 and -1e-6 <= z <= 5 + 1e-6
    assert contains(tube, (x, y, z)) != "out"


def test_a_solid_piece_is_shown_by_its_middle() -> None:
    assert place_in(solid.box((0, 0, 0), (4, 6, 8))) == pytest.approx((2, 3, 4))
