"""Tools that lie beside or on the stock take nothing of it, wherever they stand among others (volumes by hand)."""

from __future__ import annotations

import pytest

from tests.support.split_calls import split_calls
from worker.kernel import boolean, measure, primitives
from worker.kernel.partition import split
from worker.kernel.planar import rectangle
from worker.kernel.shape import Body
from worker.stage.carry import cut_all
from worker.stage.removal import Sweep

STOCK = primitives.box((0, 0, 0), (40, 30, 20))
SLOT = primitives.box((10, -5, 15), (20, 35, 20)), primitives.box((10, -5, 20), (20, 35, 23))
"""A slot 10 wide and 5 deep, in two storeys as a cutter leaves them: the upper one lies on the stock."""
BESIDE = primitives.box((40, 0, 0), (50, 30, 20))


def _sweep(*bodies: Body) -> Sweep:
    low, high = measure.bounding_box(bodies[0]).min, measure.bounding_box(bodies[0]).max
    return Sweep(bodies=bodies, plan=rectangle(low[0], low[1], high[0], high[1]))


def test_tools_that_only_touch_the_stock_take_nothing_and_spoil_nothing() -> None:
    found = cut_all(STOCK, [_sweep(BESIDE), _sweep(*SLOT), _sweep(SLOT[1])])
    assert found.volumes == pytest.approx((0.0, 10 * 30 * 5, 0.0), rel=1e-12)
    (rest,) = found.rest
    assert measure.volume(rest) == pytest.approx(40 * 30 * 20 - 1500, rel=1e-12)
    assert not found.failures and not found.notes


def test_the_kernel_is_not_asked_about_them() -> None:
    with split_calls() as asked:
        cut_all(STOCK, [_sweep(BESIDE), _sweep(*SLOT)])
    assert [tools for _, tools in asked] == [1]


@pytest.mark.parametrize("depth", [1e-5, 1e-3])
def test_a_tool_that_enters_by_a_hair_is_no_idle_one(depth: float) -> None:
    shaved = primitives.box((-1, -1, 20 - depth), (41, 31, 23))
    found = cut_all(STOCK, [_sweep(shaved)])
    assert found.volumes[0] == pytest.approx(40 * 30 * depth, rel=1e-6)


def test_what_an_earlier_step_took_is_no_stock_any_more() -> None:
    halved = primitives.box((-1, -1, 10), (41, 31, 25))
    found = cut_all(STOCK, [_sweep(halved), _sweep(*SLOT)])
    assert found.volumes == pytest.approx((40 * 30 * 10, 0.0), rel=1e-12)
    assert measure.volume(boolean.merged(found.rest[0])) == pytest.approx(40 * 30 * 10, rel=1e-12)


def test_a_split_that_loses_what_stays_is_made_up_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kernel that hands out the chips of the slot and nothing else has lost 40 x 30 x 20 less 10 x 30 x 5."""
    monkeypatch.setattr("worker.stage.carry.split", lambda *some: tuple(one for one in split(*some) if one[1]))
    found = cut_all(STOCK, [_sweep(SLOT[0])])
    assert [found.volumes[0], *map(measure.volume, found.rest)] == pytest.approx([1500, 40 * 30 * 20 - 1500], rel=1e-12)
    assert not found.failures and not found.notes
