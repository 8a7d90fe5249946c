"""Cutters a hair off the size of what they should cut: within a micrometre it is the same size, beyond it is told."""

from __future__ import annotations

import json
import math

import pytest

from schemas.report import Report
from tests.recognise.parts import rounded, upright
from tests.support.trial import Json, plan, raw_box, setup, step, tool
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.kernel.stepio import write_step
from worker.pipeline import check_plan

VISE = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 50, "parallel_height": 20,
        "parallel_thickness": 4, "max_opening": 150}  # fmt: skip


def _checked(recess: Body, diameter: float, class_: str) -> Report:
    """A block of 60 x 40 x 40 with one recess from above, milled by one end mill."""
    mill = {**tool("endmill", diameter, APMX=20, LU=20, DMM=diameter), "stickout": 40}
    milled = step("bottom_and_side_finish_milling", mill, {"class": class_})
    document: Json = plan(raw_box((0, 0, 0), (60, 40, 40)), setup([milled], workholding=VISE))
    part = write_step(cut(box((0, 0, 0), (60, 40, 40)), [recess]))
    return check_plan(part, json.dumps(document).encode(), {}).report


def _told(report: Report) -> dict[str, str]:
    return {f.code: f.message for f in report.findings if f.level != "note"}


def _slot(width: float) -> Body:
    """Along the whole block, 6 deep."""
    return box((-1, 20 - width / 2, 34), (61, 20 + width / 2, 41))


def _round_ended(width: float) -> Body:
    ends = [cylinder((x, 20, 34), (x, 20, 41), width) for x in (20, 40)]
    return fuse([box((20, 20 - width / 2, 34), (40, 20 + width / 2, 41)), *ends])


ROUNDED_POCKET = rounded(box((10, 8, 34), (50, 32, 41)), 4.9998, upright)


@pytest.mark.parametrize(
    ("recess", "diameter", "class_", "area"),
    [
        (_slot(7.9375), 7.938, "slot", 60 * 7.9375),  # 5/16 in, as a table in mm rounds it
        (_round_ended(8), 8.001, "slot", 20 * 8 + math.pi * 16),
        (ROUNDED_POCKET, 10, "closed_pocket", 40 * 24 - (4 - math.pi) * 4.9998**2),
        (cylinder((30, 20, 34), (30, 20, 41), 10), 10.001, "round_hole", math.pi * 25),
    ],
    ids=["an inch size", "round ends", "round corners", "a round hole"],
)
def test_a_micrometre_more_is_the_same_size(recess: Body, diameter: float, class_: str, area: float) -> None:
    """Nothing is told, and just the recess is taken: its area by its depth of 6."""
    report = _checked(recess, diameter, class_)
    assert _told(report) == {}
    assert report.setups[0].to_be.volume == pytest.approx(60 * 40 * 40 - 6 * area, abs=1e-5)


@pytest.mark.parametrize(("over", "words"), [(0.0011, "ø 8.0011 mm"), (0.01, "ø 8.01 mm")])
def test_more_than_a_micrometre_is_told_in_digits_that_show_it(over: float, words: str) -> None:
    told = _told(_checked(_slot(8), 8 + over, "slot"))
    assert set(told) == {"fit.too-narrow", "left.stock"}
    assert words in told["fit.too-narrow"] and "which is 8 mm wide" in told["fit.too-narrow"]
