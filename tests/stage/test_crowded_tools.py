"""Tools of one step whose many faces lie in each other: a boolean of all at once comes to no end, in turn they do."""

from __future__ import annotations

import pytest

from worker.kernel import boolean, measure
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.stage import rungs
from worker.stage.rungs import Metal, pairs_of_faces
from worker.stage.standing import EXACT

BLOCK = box((0, 0, 0), (60, 40, 20))
TOOLS = [cylinder((20, 20, 20 - z), (20, 20, 21), d) for z, d in ((4, 20), (8, 16), (12, 12))]
"""A stepped hole: levels that lie in each other."""


def test_many_faces_are_taken_in_turn_and_the_metal_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = Metal(BLOCK, EXACT).take(TOOLS)
    asked: list[int] = []
    plain = boolean.cut_traced

    def listening(stock: Body, tools: list[Body], *rest: bool, **keys: bool) -> boolean.Traced:
        asked.append(len(tools))
        assert keys["once"]
        return plain(stock, tools, *rest, **keys)

    monkeypatch.setattr(rungs, "MANY_FACES", 3)
    monkeypatch.setattr(rungs, "MOST_PAIRS", 26)  # three pairs of three faces each are 27
    monkeypatch.setattr(boolean, "cut_traced", listening)
    metal = Metal(BLOCK, EXACT)
    taken = metal.take(TOOLS)
    assert asked == [1, 1, 1]
    assert taken.volume == pytest.approx(whole.volume) and taken.standing == EXACT
    assert measure.volume(metal.body) == pytest.approx(measure.volume(BLOCK) - whole.volume)


def test_tools_that_do_not_meet_make_no_pairs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rungs, "MANY_FACES", 3)
    assert pairs_of_faces(TOOLS) == 27
    assert pairs_of_faces([TOOLS[0], cylinder((50, 20, 10), (50, 20, 21), 4)]) == 0
