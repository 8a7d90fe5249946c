"""How much a boring tool or reamer finds in its hole: from the diameters before and after.

Makers' roughing heads take 10 to 12 % of their diameter a side, reamers of 5 to 30 mm a quarter of a millimetre (from
memory).
"""

from __future__ import annotations

import functools
from typing import Any

import pytest

from schemas.finding import Finding
from tests.support.block import as_step, told
from tests.support.trial import Json, plan, raw_box, setup, step, tool
from worker.kernel import boolean
from worker.kernel import primitives as solid

HOLE: Json = {"class": "round_hole"}
VISE: Json = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 38, "parallel_height": 30}


@functools.cache
def _bored(diameter: float) -> bytes:
    hole = solid.cylinder((20, 20, -1), (20, 20, 21), diameter)
    return as_step(boolean.cut(solid.box((0, 0, 0), (40, 40, 20)), [hole]))


def _found(operation: str, type: str, before: float, after: float, **keys: Any) -> list[Finding]:
    steps = [
        step("drilling", tool("twist_drill", before, LU=60), HOLE, overcut_length=1),
        step(operation, tool(type, after, LU=60), HOLE, overcut_length=1, **keys),
    ]
    document = plan(raw_box((0, 0, 0), (40, 40, 20)), setup(steps, location=[0, 0, 20], workholding=VISE))
    return told(document, _bored(after))


BAR, REAMER = ("boring", "rotating_boring_cutting_tool"), ("reaming", "reaming_cutting_tool")


@pytest.mark.parametrize(("kind", "before", "after"), [(BAR, 17, 20), (REAMER, 9.8, 10), (REAMER, 9.5, 10)])
def test_what_shops_leave_is_fine(kind: tuple[str, str], before: float, after: float) -> None:
    assert _found(*kind, before, after) == []


@pytest.mark.parametrize(("kind", "before", "after", "least"), [(BAR, 8, 20, 14), (REAMER, 9, 10, 9.5)])
def test_more_is_told_with_the_hole_to_make_before(
    kind: tuple[str, str], before: float, after: float, least: float
) -> None:
    (found,) = _found(*kind, before, after)
    assert (found.code, found.workingstep) == ("fit.pilot", "20")
    assert found.measured == pytest.approx((after - before) / 2)
    assert found.remedy is not None and f"at least ø {least:g} mm" in found.remedy.text


def test_a_bar_that_takes_it_in_passes_is_fine() -> None:
    passes = {"technology": {"radial_cutting_depth": 2.0}}
    assert _found(*BAR, 8, 20, **passes) == []
