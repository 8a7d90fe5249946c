"""Seal grooves into which slots of their own depth run are still grooves, and the slots slots; sizes are as drawn."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

UP, FRONT = (0.0, 0.0, 1.0), (0.0, -1.0, 0.0)
RIGHT, LEFT = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
GROOVE = cut(pocket((15, 12, 16), (85, 48, 21), 14), [pocket((19, 16, 15), (81, 44, 22), 10)])
LENGTH = 2 * (42 + 8) + math.tau * 12
"""Of its middle line, 66 x 32 mm with corners of 12."""
OUTSIDE = box((-1, 28, 16), (17, 32, 21))
INSIDE = box((17, 28, 16), (40, 32, 21))


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


@pytest.mark.parametrize(
    ("tools", "feeds"),
    [
        ([OUTSIDE], {(15, 4, "open open", frozenset({UP, LEFT}))}),
        ([INSIDE], {(21, 4, "open flat", frozenset({UP}))}),
        ([obround(5, 17, 30, 16, 21, 3)], {(11.5, 3, "open radiused", frozenset({UP}))}),
        ([box((48, -1, 16), (52, 13, 21))], {(12, 4, "open open", frozenset({UP, FRONT}))}),
        ([OUTSIDE, INSIDE], {(40, 4, "open flat", frozenset({UP, LEFT}))}),
        ([box((-1, 28, 16), (101, 32, 21))], {(100, 4, "open open", frozenset({UP, LEFT, RIGHT}))}),
        ([box((-1, 26, 16), (17, 34, 21))], {(15, 8, "open open", frozenset({UP, LEFT}))}),  # all of the flat wall
        ([box((17, 26, 16), (40, 34, 21))], {(21, 8, "open flat", frozenset({UP}))}),
        ([box((-1, 24, 16), (17, 36, 21))], {(15.144, 12, "open open", frozenset({UP, LEFT}))}),  # 29 - sqrt(14² - 2²)
        ([drill(17, 30, 16, 21, 12)], set()),
        ([drill(17, 30, -1, 21, 12)], set()),
        ([INSIDE, drill(40, 30, -1, 21, 8)], {(17.536, 4, "open open", frozenset({UP}))}),  # 21 - sqrt(4² - 2²)
    ],
)
def test_a_seal_groove_and_the_slots_that_run_into_it(tools: list[Body], feeds: set[tuple[object, ...]]) -> None:
    body = cut(block(), [GROOVE, *tools])
    slots = [f for f in recesses(body) if f.class_ == "slot"]
    (groove,) = [f for f in slots if f.ends == "loop"]
    assert (groove.length, groove.width, groove.depth) == pytest.approx((LENGTH, 4, 4))
    found = {(round(f.length or 0, 3), f.width, f.ends, frozenset(f.access)) for f in slots if f is not groove}
    assert found == feeds
    assert {f.class_ for f in recesses(body)} <= {"slot", "round_hole"}
    assert groove.id in {f.id for f in recognise(cut(block(), [GROOVE]))}


@pytest.mark.parametrize("feed", [OUTSIDE, box((-1, 24, 16), (17, 36, 21)), drill(17, 30, 16, 21, 12)])
def test_another_encoding_of_a_fed_groove(feed: Body) -> None:
    same_when_rewritten(cut(block(), [GROOVE, feed]), 3)


def test_a_pocket_with_an_island_and_a_slot_into_it_stays_one() -> None:
    wide = cut(pocket((15, 12, 16), (85, 48, 21), 14), [pocket((27, 24, 15), (73, 36, 22), 2)])
    found = recesses(cut(block(), [wide, OUTSIDE]))
    assert sorted(f.class_ for f in found) == ["boss", "open_pocket"]
