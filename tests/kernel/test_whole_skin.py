"""A round skin in strips made anew as one: same solid, fewer faces; what something else crosses stays."""

from __future__ import annotations

import math

import pytest

from bench.reencode import split
from worker.kernel.boolean import cut, fuse
from worker.kernel.defeature import with_whole_skin
from worker.kernel.measure import volume
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body, faces

LOW, HIGH = (0.0, 0.0, 10.0), (0.0, 0.0, 30.0)


def shank() -> Body:
    return fuse([box((-20, -20, 0), (20, 20, 10)), cylinder((0, 0, 0), (0, 0, 40), 16)])


@pytest.mark.parametrize("hollow", [False, True])
def test_strips_become_one_skin(hollow: bool) -> None:
    # pi r^2 h on or out of a block, closed form
    block = box((-20, -20, 0), (20, 20, 40))
    body = split(cut(block, [cylinder((0, 0, 0), (0, 0, 40), 16)]) if hollow else shank(), 3)[0]
    found = with_whole_skin(body, LOW, HIGH, 8.0, hollow)
    assert len(faces(found)) < len(faces(body))
    expected = 64000 - math.pi * 64 * 40 if hollow else 16000 + math.pi * 64 * 30
    assert volume(found) == pytest.approx(expected, rel=1e-9)


def test_a_skin_that_something_crosses_stays() -> None:
    keyed = split(cut(shank(), [box((6, -2, 15), (10, 2, 25))]), 3)[0]
    assert with_whole_skin(keyed, LOW, HIGH, 8.0, False) is keyed
