"""One step's cut, by the first way that gives a sound result: exact solids; else nothing is cut, and that is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.tolerances import BALANCE
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.shape import EMPTY, Body, is_empty
from worker.stage.standing import UNKNOWN, Standing


@dataclass(frozen=True)
class Taken:
    """What a step takes, what it leaves and what that is worth; ``fault`` is why it was not cut exactly."""

    removal: Body
    volume: float
    rest: Body
    standing: Standing
    fault: str = ""


def take(stock: Body, tools: Sequence[Body], standing: Standing) -> Taken:
    """The stock cut by one step's solids. Where no way works, the stock stands uncut and its metal is unknown."""
    present = [tool for tool in tools if not is_empty(tool)]
    if not present or is_empty(stock):
        return Taken(EMPTY, 0.0, stock, standing)
    try:
        return _exactly(stock, present, standing)
    except KernelError as error:
        return Taken(EMPTY, 0.0, stock, UNKNOWN, error.detail or error.step)


def _exactly(stock: Body, tools: Sequence[Body], standing: Standing) -> Taken:
    removal = boolean.common(stock, tools, merge=False)
    if is_empty(removal):
        return Taken(EMPTY, 0.0, stock, standing)
    rest = boolean.cut(stock, tools)
    before, taken, left = (measure.volume(body) for body in (stock, removal, rest))
    if abs(before - taken - left) > BALANCE * before:
        raise KernelError(
            "cut", f"{before:.9g} mm3 of stock became {taken:.9g} mm3 of chips and {left:.9g} mm3 of rest"
        )
    return Taken(removal, taken, rest, standing)
