"""Features that cut into each other come out as they were put in, whichever way the part is written."""

from __future__ import annotations

import pytest

from bench.crossed import judged
from bench.crossed_parts import crossed
from bench.truths import judged_all_ways
from tests.recognise.parts import block
from tests.support.recognised import recognise
from worker.kernel.boolean import cut
from worker.kernel.primitives import box


@pytest.mark.parametrize("seed", [2, 12])
def test_what_was_put_in_is_found_once_however_it_is_written(seed: int) -> None:
    """Sizes and classes are those the part was made with (``bench.crossed``)."""
    part = crossed(seed)
    faults = {way: found for way, found, _ in judged_all_ways(part.body, part.wanted, seed) if found}
    assert not faults


def test_the_judge_tells_what_is_missing_and_what_is_too_much() -> None:
    part = crossed(0)
    features = recognise(part.body)
    assert judged(part.wanted, features) == []
    assert [f.split(":")[0] for f in judged(part.wanted[1:], features)] == ["not put in"]
    assert [f.split(":")[0] for f in judged((*part.wanted, part.wanted[0]), features)] == ["not found"]


def test_a_pocket_that_two_deeper_slots_divide_into_four_corners_is_whole() -> None:
    """60 x 40, 6 deep, under slots of 8 and 10 mm along X and along Y, 12 and 15 deep."""
    body = cut(
        block(100, 60, 20),
        [box((20, 10, 14), (80, 50, 21)), box((-1, 26, 8), (101, 34, 21)), box((45, -1, 5), (55, 61, 21))],
    )
    found = [f for f in recognise(body) if f.class_ != "planar_face" and f.class_ != "profile_feature"]
    sizes = sorted((f.class_, f.length, f.width, f.depth) for f in found)
    assert sizes == [
        ("closed_pocket", pytest.approx(60), pytest.approx(40), pytest.approx(6)),
        ("slot", pytest.approx(60), pytest.approx(10), pytest.approx(15)),
        ("slot", pytest.approx(100), pytest.approx(8), pytest.approx(12)),
    ]
