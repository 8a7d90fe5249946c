"""Steps within a later one part its chips: the same metal goes to the same steps (volumes by hand)."""

from __future__ import annotations

import math

import pytest

from schemas.base import Box
from tests.support.split_calls import split_calls
from worker.kernel import measure, primitives
from worker.kernel.planar import disc, overlap, rectangle
from worker.stage import carry
from worker.stage.carry import cut_all
from worker.stage.nesting import hosts
from worker.stage.removal import Sweep

STOCK = primitives.box((0, 0, 0), (40, 30, 20))
METAL = Box(min=(0, 0, 0), max=(40, 30, 20))
TOP = 23.0


def _column(x0: float, y0: float, x1: float, y1: float, low: float, *, known: bool = True) -> Sweep:
    """A pocket cleared from above down to a height."""
    body = primitives.box((x0, y0, low), (x1, y1, TOP))
    return Sweep((body,), rectangle(x0, y0, x1, y1), tip_z=low, column=low if known else None)


def _hole(x: float, y: float, radius: float, low: float) -> Sweep:
    body = primitives.cylinder((x, y, low), (x, y, TOP), 2 * radius)
    return Sweep((body,), disc((x, y), radius), tip_z=low, column=low)


def _hosts(*sweeps: Sweep) -> list[int | None]:
    return hosts(sweeps, METAL, lambda a, b: overlap(sweeps[a].plan, sweeps[b].plan))


ROUGH, FINISH = _column(10.5, 8.5, 29.5, 21.5, 12.3), _column(10, 8, 30, 22, 12)


def test_roughing_parts_the_chips_of_its_finishing() -> None:
    with split_calls() as asked:
        found = cut_all(STOCK, [ROUGH, FINISH], metal=METAL)
    rough = 19 * 13 * 7.7
    assert found.volumes == pytest.approx((rough, 20 * 14 * 8 - rough), rel=1e-12)
    assert sum(map(measure.volume, found.rest)) == pytest.approx(40 * 30 * 20 - 20 * 14 * 8, rel=1e-12)
    assert [faces for faces, _ in asked] == [
        6,
        6,
    ]  # the block, then the block that finishing takes: not a block with a pocket in it


def test_who_takes_what_is_as_without_nesting() -> None:
    """A chain of holes on one axis, a slot across them in between, and a face over all of them at the end."""
    steps = [
        _hole(20, 15, 2, 15), _hole(20, 15, 4, 8), _column(-5, 13, 45, 17, 16, known=False),
        _hole(20, 15, 5, 10), _column(-5, -5, 45, 35, 14),
    ]  # fmt: skip
    plain = [Sweep(s.bodies, s.plan, tip_z=s.tip_z) for s in steps]
    one, other = cut_all(STOCK, steps, metal=METAL), cut_all(STOCK, plain)
    assert one.volumes == pytest.approx(other.volumes, rel=1e-9)
    assert one.volumes[0] == pytest.approx(math.pi * 4 * 5, rel=1e-9)
    assert one.volumes[1] == pytest.approx(math.pi * (16 * 12 - 4 * 5), rel=1e-9)
    assert sum(map(measure.volume, one.rest)) == pytest.approx(sum(map(measure.volume, other.rest)), rel=1e-9)


def test_a_step_in_between_that_takes_of_the_same_metal_keeps_them_apart() -> None:
    across = _column(15, -5, 20, 35, 16)
    assert _hosts(ROUGH, FINISH) == [1, None]
    assert _hosts(ROUGH, across, FINISH) == [None, None, None]
    assert _hosts(ROUGH, _column(32, 2, 38, 6, 16), FINISH) == [2, None, None]
    assert _hosts(ROUGH, across, FINISH, _column(-5, -5, 45, 35, 12)) == [3, 3, 3, None]


@pytest.mark.parametrize(
    ("inner", "outer"),
    [
        (_column(10, 8, 30, 22, 11.9), FINISH),  # deeper
        (_column(10, 8, 30.001, 22, 12), FINISH),  # wider
        (ROUGH, _column(10, 8, 30, 22, 12, known=False)),  # nobody knows what the later one holds
        (ROUGH, Sweep(plan=FINISH.plan, column=12.0)),  # the later one takes nothing
    ],
)
def test_what_goes_past_the_later_step_is_no_part_of_it(inner: Sweep, outer: Sweep) -> None:
    assert _hosts(inner, outer) == [None, None]


def test_only_what_lies_over_the_metal_counts() -> None:
    """The first runs out farther than the second, and both go deeper than the stock."""
    wide, through = _column(-9, -9, 49, 39, -3), _column(-2, -2, 42, 32, -1)
    assert _hosts(wide, through) == [1, None]
    assert hosts([wide, through], None, lambda a, b: True) == [None, None]


def _edge(x0: float, x1: float, low: float) -> Sweep:
    """A strip right across the block that a cutter follows along an edge."""
    body = primitives.box((x0, -5, low), (x1, 35, TOP))
    return Sweep((body,), rectangle(x0, -5, x1, 35), tip_z=low)


def test_what_runs_along_others_is_cut_when_these_are_gone() -> None:
    """A strip 1 wide and 1 deep beside a slot 10 wide and 8 deep: both in one call would touch tool to tool."""
    beside, slot, hole = _edge(9, 10, 19), _column(10, -5, 20, 35, 12), _hole(30, 15, 3, 5)
    with split_calls() as asked:
        found = cut_all(STOCK, [beside, slot, hole], metal=METAL)
    assert found.volumes == pytest.approx((1 * 30 * 1, 10 * 30 * 8, math.pi * 9 * 15), rel=1e-12)
    assert [tools for _, tools in asked] == [2, 1]


@pytest.mark.parametrize(
    ("beside", "later", "layers"),
    [
        (_edge(9, 10, 19), _hole(35, 15, 2, 5), [[0, 2], [1]]),
        (_edge(5, 6, 19), _hole(35, 15, 2, 5), [[0, 1, 2]]),  # touches nobody
        (_edge(9, 10, 19), _hole(8, 15, 2, 5), [[0, 1], [2]]),  # in the way of a later step
        (_column(9, -5, 10, 35, 19), _hole(35, 15, 2, 5), [[0, 1, 2]]),  # no edge
    ],
)
def test_only_edges_that_nobody_waits_for_go_last(beside: Sweep, later: Sweep, layers: list[list[int]]) -> None:
    steps = [_column(10, -5, 20, 35, 12), beside, later]
    found = carry.layers(range(3), steps, lambda a, b: overlap(steps[a].plan, steps[b].plan))
    assert found == layers
