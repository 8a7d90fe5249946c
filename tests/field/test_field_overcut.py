"""What holds the stock bars the cutter where it stands, and nothing above it. Closed forms beside."""

import math

import pytest

from examples.shapes import box, cut, cylinder, fuse
from tests.support.trial import inputs, plan, raw_box, setup, step, tool
from tests.support.undercut import FINISH
from worker.field import Opinion, second_opinion
from worker.inputs import Inputs
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

PLATE = {
    "type": "fixture_plate",
    "elements": [{"type": "plate", "box": {"min": [-50, -50, -40], "max": [50, 50, -20]}}],
}


def _opinion(found: Inputs) -> Opinion:
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    return opinion


def test_above_jaws_that_are_too_near_for_the_cutter_the_wall_is_milled() -> None:
    """Jaws 2 mm beside both walls, up to 4 mm above their foot, and past the walls' ends: there a cutter of 10 takes
    nothing, above them all; no line through the stock meets the jaws."""
    works = [step("side_finish_milling", tool("endmill", 10), {"class": "profile_feature"})]
    raw = raw_box((-30, -22, -24), (30, 22, 2))
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 200, "jaw_height": 38, "parallel_height": 30}
    opinion = _opinion(inputs(box((-30, -20, -20), (30, 20, 0)), plan(raw, setup(works, workholding=vise))))
    exact = 60 * 44 * 26 - 60 * 4 * 18
    assert opinion.solid_volume == pytest.approx(exact, rel=1e-6)
    assert opinion.field_volume == pytest.approx(exact, abs=opinion.bound)


def test_an_overcut_into_the_plate_leaves_the_pocket_above_it_free() -> None:
    """Window 30 x 20 with corners of 4 through 20: (30 * 20 - (4 - pi) * 16) * 20 mm3."""
    corners = [cylinder((x, y, -21), (x, y, 1), 8) for x in (-11, 11) for y in (-6, 6)]
    window = fuse(box((-15, -6, -21), (15, 6, 1)), box((-11, -10, -21), (11, 10, 1)), *corners)
    part = cut(box((-30, -25, -20), (30, 25, 0)), window)
    works = [step(FINISH, tool("endmill", 6), {"class": "closed_pocket"}, overcut_length=0.5)]
    raw = raw_box((-30, -25, -20), (30, 25, 0))
    found = inputs(part, plan(raw, setup(works, workholding=PLATE)))
    opinion = _opinion(found)
    exact = 60 * 50 * 20 - (30 * 20 - (4 - math.pi) * 16) * 20
    assert opinion.solid_volume == pytest.approx(exact, rel=1e-6)
    assert opinion.field_volume == pytest.approx(exact, abs=opinion.bound)
    assert opinion.relative_bound < 3e-4
