"""V-grooves that bend and turn corners, a millimetre deep at 45 degrees: one groove each; lengths by hand."""

from __future__ import annotations

import math

import pytest

from bench.reencode import split, turned
from examples.shapes import Shape, box, cut
from schemas.feature import Feature
from tests.support.engraved import arc, end, line, on
from tests.support.recognised import recognise
from worker.kernel.shape import Body

OUTSIDE = ("planar_face", "profile_feature")


def engraved(*strokes: Shape) -> Body:
    return Body(cut(box((0, 0, 0), (60, 40, 20)), *strokes))


def grooves_of(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in OUTSIDE]


def test_strokes_that_follow_each_other_are_one_groove_as_long_as_all() -> None:
    """Both round ends come to the line's length, a millimetre each."""
    corner = [line((10, 30), (10, 10)), line((10, 10), (25, 10)), *(end(p) for p in ((10, 30), (10, 10), (25, 10)))]
    hook = [line((20, 30), (20, 15)), arc((15, 15), 5, -180, 0), end((20, 30)), end((10, 15))]
    snake = [arc((30, 25), 5, 0, 270), arc((30, 15), 5, -180, 90), end((35, 25)), end((25, 15))]
    for strokes, length in ((corner, 35.0), (hook, 15 + 5 * math.pi), (snake, 15 * math.pi)):
        body = engraved(*strokes)
        for part in (body, turned(body, 2)[0], split(body, 3)[0]):
            (found,) = grooves_of(part)
            assert (found.class_, found.ends, found.course_of_travel) == ("slot", "radiused radiused", "general")
            assert (found.length, found.width, found.depth) == pytest.approx((length + 2, 2, 1), abs=1e-2)
            assert found.slope == pytest.approx(45, abs=1e-2)


def test_a_bend_is_a_groove_round_its_axis() -> None:
    ended = engraved(arc((30, 20), 10, 20, 110), *(end(on((30, 20), 10, angle)) for angle in (20, 110)))
    out = engraved(arc((0, 20), 10, -100, 100))
    crossed = engraved(arc((30, 20), 10, 0, 360), line((-1, 20), (61, 20)))
    whole = 10 * math.pi
    for body, ends, length, count in (
        (ended, "radiused radiused", whole / 2 + 2, 1),
        (out, "open open", whole, 1),
        (crossed, "open open", whole, 2),
    ):
        for part in (body, turned(body, 2)[0]):
            found = [f for f in grooves_of(part) if f.course_of_travel == "circular"]
            assert [(f.class_, f.ends) for f in found] == [("slot", ends)] * count
            for one in found:
                assert (one.diameter, one.width, one.length) == pytest.approx((20, 2, length), abs=1e-2)


def test_strokes_that_branch_are_a_groove_and_what_runs_into_it() -> None:
    strokes = [line((10, 30), (30, 30)), line((20, 30), (20, 10)), *(end(p) for p in ((10, 30), (30, 30), (20, 10)))]
    found = grooves_of(engraved(*strokes))
    assert sorted((f.class_, f.length and round(f.length, 3)) for f in found) == [("slot", 21.0), ("slot", 22.0)]
