"""Many small bodies held to one of many faces: one boolean for all that keep apart, and what each alone would give."""

from __future__ import annotations

import math

import pytest

from worker.kernel import attempts, boolean, measure, primitives
from worker.kernel.shape import Body
from worker.kernel.together import cut_each, sharing_metal

PITCH, BORE = 10.0, 2.0


def peg(number: int, radius: float, low: float, high: float) -> Body:
    at = PITCH * number
    return primitives.cylinder((at, 0, low), (at, 0, high), 2 * radius)


@pytest.fixture(scope="module")
def plate() -> Body:
    """Eight bores of radius 2 through a plate 10 mm thick."""
    return boolean.cut(primitives.box((-5, -5, 0), (75, 5, 10)), [peg(n, BORE, -1, 11) for n in range(8)])


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many bodies each operation of the kernel was run on."""
    found: list[int] = []
    run = attempts._run

    def listening(kind, step, arguments, **named):
        found.append(len(arguments))
        return run(kind, step, arguments, **named)

    monkeypatch.setattr(attempts, "_run", listening)
    return found


def test_columns_less_a_plate(plate: Body, runs: list[int]) -> None:
    """By hand: of a column of radius 3 from 2 below the plate to 5 above it stays 2 + 5 mm of its length, and within
    the plate its core of radius 2. The last two overlap: they are cut apart from each other."""
    columns = [peg(n, 3.0, -2, 15) for n in range(5)]
    columns.append(primitives.cylinder((4 * PITCH + 1, 0, -2), (4 * PITCH + 1, 0, 15), 6.0))
    rest = cut_each(columns, plate)
    assert len(runs) == 2
    for column in rest[:5]:
        assert measure.volume(column) == pytest.approx(math.pi * (9 * 7 + 4 * 10), rel=1e-7)
    for n, column in enumerate(rest[:5]):
        assert measure.bounding_box(column).min[0] == pytest.approx(PITCH * n - 3)
    alone = boolean.cut(columns[5], [plate], merge=False)
    assert measure.volume(rest[5]) == pytest.approx(measure.volume(alone), rel=1e-9)


def test_drills_through_a_plate(plate: Body, runs: list[int]) -> None:
    """Drills of the bores' own size take nothing of the plate, one 0.2 mm larger pi (2.1^2 - 2^2) 10 mm3."""
    drills = [[peg(n, 2.1 if n == 3 else BORE, -1, 12)] for n in range(8)]
    assert sharing_metal(plate, drills, 1e-3) == {3}
    assert sharing_metal(plate, drills, math.pi * 0.41 * 10 * 1.001) == set()
    assert len(runs) == 2


def test_tools_of_one_step_count_together(plate: Body) -> None:
    """Two thin pegs of one step, in the web between bores, take pi 0.1^2 10 mm3 each."""
    first, second = (primitives.cylinder((5, y, -1), (5, y, 11), 0.2) for y in (0, 1))
    one = math.pi * 0.01 * 10
    assert sharing_metal(plate, [[first, second], [], [peg(4, BORE, -1, 11)]], 1.5 * one) == {0}
