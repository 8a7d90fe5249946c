"""Edges that do not join exactly two faces are told with their place; seams and points of cones are none."""

from __future__ import annotations

import json

import pytest

from tests.recognise.parts import block, drill, point
from tests.support.block import one_setup
from worker.inputs import read_part
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.kernel.stepio import write_step
from worker.pipeline import check_plan
from worker.recognise.survey import survey


def touching() -> Body:
    """Two corners of a block left standing, which touch in the upright line at (20, 20)."""
    return cut(box((0, 0, 0), (40, 40, 20)), [box((-1, -1, 10), (20, 20, 21)), box((20, 20, 10), (41, 41, 21))])


def test_metal_that_touches_in_a_line_is_told_with_its_place() -> None:
    (note,) = read_part(write_step(touching(), "mm", "part"))[1].notes
    assert note.startswith("1 edge does not join exactly two faces, the first at [20, 20, 15] mm")


def test_the_report_says_so_too() -> None:
    step = {"id": "10", "operation": "bottom_and_side_finish_milling", "tool": "EM12", "features": [{"class": "step"}]}
    plan = one_setup([step])
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [40, 40, 20]}}
    report = check_plan(write_step(touching(), "mm", "part"), json.dumps(plan).encode(), {}).report
    assert any("not join exactly two faces" in note for note in report.evidence.notes)


@pytest.mark.parametrize(
    "body", [block(), cut(block(), [fuse([drill(20, 30, 8, 21, 8), point(20, 30, 8, 8, 2.4)])]), drill(0, 0, 0, 9, 5)]
)
def test_sound_parts_have_none(body: Body) -> None:
    assert survey(body).notes == ()
