"""Cutters that find room only higher up: solid and second computation against closed forms.

A disc of radius r leaves (1 - pi/4) r2 in a sharp corner; before a gap of width w < 2 r it reaches in by the segment of
its circle over a chord of w.
"""

from __future__ import annotations

import math

import pytest

from examples.shapes import Shape, box, cut, fuse
from tests.support.trial import Json, inputs, plan, raw_box, removals, setup, step, tool
from worker.field import Opinion, second_opinion
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

FINISH = "bottom_and_side_finish_milling"


def both(part: Shape, blank: Json, operation: str, feature: Json, **keys: Json) -> tuple[float, Opinion]:
    """What the solid takes with an end mill of 8, and the two computations of what is left."""
    work = step(operation, tool("endmill", 8), feature)
    found = inputs(part, plan(blank, setup([work], location=[0, 0, 0], **keys)))
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    (taken,) = removals(stages[0])
    return taken, opinion


def test_over_a_post_the_other_half_of_a_pocket_is_cleared_from_above() -> None:
    """Two halves of 20 x 20, 10 deep, with a gap of 4 between them; in one of them a post of 12 x 12 stands 5 high. The
    cutter gets round no post at the bottom, and through no gap at any height."""
    rooms = box((-25, -10, -10), (-5, 10, 5)), box((5, -10, -10), (25, 10, 5)), box((-6, -2, -10), (6, 2, 5))
    part = fuse(cut(box((-30, -15, -20), (30, 15, 0)), *rooms), box((9, -6, -12), (21, 6, -5)))
    solid, opinion = both(part, raw_box((-30, -15, -20), (30, 15, 0)), FINISH, {"class": "closed_pocket"})
    into_gap = 16 * math.asin(2 / 4) - 2 * math.sqrt(16 - 4)
    exact = (400 - 4 * (1 - math.pi / 4) * 16 + into_gap) * (10 + 5)
    assert solid == pytest.approx(exact, rel=1e-6)
    assert solid - opinion.difference == pytest.approx(exact, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed


def test_a_profile_is_cut_from_where_the_fixture_lets_the_cutter_in() -> None:
    """A block of 40 x 40 with 2 of stock round it in a frame 5 off its walls, whose rim stands 10 above its lower
    end: below the rim there is room nowhere, above it all round."""
    sides = [((-60, -60), (-25, 60)), ((25, -60), (60, 60)), ((-25, -60), (25, -25)), ((-25, 25), (25, 60))]
    frame = [{"type": "plate", "box": {"min": [*low, -40], "max": [*high, -10]}} for low, high in sides]
    holding = {"type": "fixture_plate", "elements": frame}
    blank = raw_box((-22, -22, -20), (22, 22, 0))
    part = box((-20, -20, -20), (20, 20, 0))
    solid, opinion = both(part, blank, "side_finish_milling", {"class": "profile_feature"}, workholding=holding)
    exact = (44**2 - 40**2) * 10
    assert solid == pytest.approx(exact, rel=1e-6)
    assert solid - opinion.difference == pytest.approx(exact, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed


def test_a_side_is_cut_from_where_a_long_bed_lets_the_cutter_in() -> None:
    """2 of stock on one side of the block, in a recess of a machine's bed of 8 m that ends 5 off that side and 5 off
    the block's ends, 10 above its lower end: as far as anybody looks for room, there is none below that."""
    sides = [((25, -4000), (4000, 4000)), ((-15, -4000), (25, -25)), ((-15, 25), (25, 4000))]
    bed = [{"type": "plate", "box": {"min": [*low, -40], "max": [*high, -10]}} for low, high in sides]
    holding = {"type": "fixture_plate", "elements": bed}
    blank = raw_box((-20, -20, -20), (22, 20, 0))
    part = box((-20, -20, -20), (20, 20, 0))
    side: Json = {"class": "planar_face", "normal": [1, 0, 0]}
    solid, opinion = both(part, blank, "side_finish_milling", side, workholding=holding)
    assert solid == pytest.approx(2 * 40 * 10, rel=1e-6)
    assert solid - opinion.difference == pytest.approx(2 * 40 * 10, abs=opinion.bound)
    assert opinion.agrees and not opinion.borrowed
