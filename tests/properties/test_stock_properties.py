"""What holds for any part and plan: stock never grows, nothing is cut twice, a split step removes the same metal.

Parts are blocks with a pocket, a step and a hole of drawn sizes; a fixed seed keeps runs alike.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from examples.shapes import Shape, box, common, cut, cylinder, rounded_block, volume
from tests.support.trial import Json, plan, raw_box, removals, setup, stages_of, step, taken, to_be, tool

REL = 1e-7
TINY = 1e-3
"""No metal, mm3."""
DRAW = (Phase.explicit, Phase.generate)
"""No shrinking: drawn sizes are small already, and a smaller case costs minutes."""
FEW = settings(max_examples=8, deadline=None, derandomize=True, phases=DRAW, suppress_health_check=list(HealthCheck))
POCKET, STEP, HOLE = {"class": "closed_pocket"}, {"class": "step"}, {"class": "round_hole"}
FINISH = "bottom_and_side_finish_milling"


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 10), round(high * 10)).map(lambda n: n / 10)


@dataclass(frozen=True)
class Design:
    """A block 100 x 60 x 30 (top at 0) with a pocket, a step at the right and a through hole at the left."""

    length: float
    width: float
    depth: float
    corner: float
    step_width: float
    step_depth: float
    hole: float

    def part(self) -> Shape:
        a, b = self.length / 2, self.width / 2
        return cut(
            box((-50, -30, -30), (50, 30, 0)),
            rounded_block((-a, -b, -self.depth), (a, b, 1), self.corner),
            box((50 - self.step_width, -31, -self.step_depth), (51, 31, 1)),
            cylinder((-38, 0, -31), (-38, 0, 1), self.hole),
        )


designs = st.builds(
    Design,
    length=tenths(20, 50),
    width=tenths(16, 40),
    depth=tenths(2, 25),
    corner=tenths(1, 7.5),
    step_width=tenths(3, 20),
    step_depth=tenths(1, 28),
    hole=tenths(3, 14),
)
RAW = raw_box((-52, -32, -30), (52, 32, 2))


def sound_steps(design: Design, cutter: float) -> list[Json]:
    mill = tool("endmill", cutter)
    return [
        step("plane_finish_milling", tool("facemill", 50), {"class": "planar_face", "normal": [0, 0, 1]}),
        step(FINISH, mill, POCKET),
        step(FINISH, mill, STEP),
        step("drilling", tool("twist_drill", design.hole, SIG=118), HOLE, overcut_length=1),
    ]


@FEW
@given(design=designs, cutter=tenths(2, 20), side=tenths(0, 1), bottom=tenths(0, 1), z=tenths(-32, 1))
def test_stock_never_grows_whatever_the_plan(
    design: Design, cutter: float, side: float, bottom: float, z: float
) -> None:
    mill = tool("endmill", cutter)
    works = [
        step("bottom_and_side_rough_milling", mill, POCKET, allowance_side=side, allowance_bottom=bottom),
        step(FINISH, mill, STEP, bottom_z=z),
        step("drilling", tool("twist_drill", cutter, SIG=118), HOLE, bottom_z=z - 1),
    ]
    (stage,) = stages_of(design.part(), plan(RAW, setup(works)))
    stocks = [stage.stock_before(i).wrapped for i in range(len(works) + 1)]
    sizes = [volume(s) for s in stocks]
    assert all(after <= before * (1 + REL) for before, after in pairwise(sizes))
    assert all(volume(cut(after, before)) < TINY for before, after in pairwise(stocks))
    assert all(r >= 0 for r in removals(stage))
    assert taken(stage) == pytest.approx(sum(removals(stage)), rel=1e-6, abs=TINY)


@FEW
@given(design=designs, cutter=tenths(2, 14))
def test_a_second_pass_removes_nothing(design: Design, cutter: float) -> None:
    works = sound_steps(design, cutter)
    (stage,) = stages_of(design.part(), plan(RAW, setup([w for work in works for w in (work, copy.deepcopy(work))])))
    assert max(removals(stage)[1::2]) < TINY
    (alone,) = stages_of(design.part(), plan(RAW, setup(works)))
    assert to_be(stage) == pytest.approx(to_be(alone), rel=REL)


@FEW
@given(design=designs, cutter=tenths(2, 14), share=st.integers(1, 9))
def test_a_step_split_in_two_depths_removes_the_same_metal(design: Design, cutter: float, share: int) -> None:
    whole = sound_steps(design, cutter)
    half = {**whole[1], "bottom_z": -round(design.depth * share / 10, 2)}
    split = [whole[0], half, *whole[1:]]
    (one,) = stages_of(design.part(), plan(RAW, setup(whole)))
    (two,) = stages_of(design.part(), plan(RAW, setup(split)))
    assert to_be(two) == pytest.approx(to_be(one), rel=REL)
    assert sum(removals(two)[1:3]) == pytest.approx(removals(one)[1], rel=1e-6, abs=TINY)


@FEW
@given(design=designs, cutter=tenths(2, 14))
def test_a_step_split_by_features_removes_the_same_metal(design: Design, cutter: float) -> None:
    whole = sound_steps(design, cutter)
    both = [whole[0], {**whole[1], "features": [POCKET, STEP]}, whole[3]]
    (one,) = stages_of(design.part(), plan(RAW, setup(whole)))
    (two,) = stages_of(design.part(), plan(RAW, setup(both)))
    assert to_be(two) == pytest.approx(to_be(one), rel=REL)


@FEW
@given(design=designs, first=tenths(2, 14), second=tenths(2, 14))
def test_no_sound_step_enters_the_part_and_the_smaller_cutter_reaches_more(
    design: Design, first: float, second: float
) -> None:
    assume(abs(first - second) > 0.05)
    small, large = min(first, second), max(first, second)
    part = design.part()
    stages = {c: stages_of(part, plan(RAW, setup(sound_steps(design, c))))[0] for c in (small, large)}
    for stage in stages.values():
        assert volume(common(part, stage.to_be.wrapped)) == pytest.approx(volume(part), rel=1e-6)
    assert to_be(stages[small]) <= to_be(stages[large]) + TINY


@FEW
@given(design=designs, cutter=tenths(2, 14), order=st.permutations([1, 2, 3]))
def test_the_order_of_steps_that_do_not_meet_is_free(design: Design, cutter: float, order: list[int]) -> None:
    assume(design.length / 2 + 0.5 < 50 - design.step_width)
    works = sound_steps(design, cutter)
    (plain,) = stages_of(design.part(), plan(RAW, setup(works)))
    (mixed,) = stages_of(design.part(), plan(RAW, setup([works[0], *(works[i] for i in order)])))
    assert to_be(mixed) == pytest.approx(to_be(plain), rel=REL)
