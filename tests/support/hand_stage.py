"""Stages made by hand for reach: a stock, what each step sweeps, and bodies that stand around; nothing is resolved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Frame
from schemas.feature import Feature
from schemas.plan import Origin, Setup, Workingstep
from schemas.tool import Tool
from schemas.workholding import Vise
from worker.kernel import boolean, measure
from worker.kernel.shape import EMPTY, Body
from worker.part import Part
from worker.stage.model import Balance, Cut, Holding, HoldingBody, Plunge, Stage

TOP = Frame()
_VISE = Vise(type="vise", jaw_axis="Y", jaw_width=100.0, jaw_height=30.0, parallel_height=20.0)


@dataclass(frozen=True)
class Sweep:
    """One step of a hand-made stage: tool, swept body, height of the tip (setup's frame), plunges."""

    tool: Tool
    swept: Body
    tip: float
    plunges: tuple[Plunge, ...] = ()
    features: tuple[Feature, ...] = ()
    operation: str = "bottom_and_side_rough_milling"
    stated: float | None = None
    """The step's ``bottom_z``."""


def stage_of(stock: Body, sweeps: Sequence[Sweep], around: Sequence[HoldingBody] = (), frame: Frame = TOP) -> Stage:
    """The stage of those steps; its stock is cut with exact booleans."""
    before, cuts = stock, []
    for number, sweep in enumerate(sweeps):
        removal = boolean.common(before, [sweep.swept])
        cuts.append(_cut(number, sweep, removal))
        before = boolean.cut(before, [sweep.swept])
    origin = Origin(location=frame.location, axis=frame.axis, ref_direction=frame.ref_direction)
    setup = Setup(id="S1", origin=origin, workholding=_VISE, workingsteps=tuple(c.step for c in cuts))
    first, last = measure.volume(stock), measure.volume(before)
    holding = Holding("bodies", tuple(around), measure.bounding_box(stock, frame).min[2])
    balance = Balance(first, first - last, 0.0, last)
    return Stage(setup, frame, stock, holding, tuple(cuts), before, (), False, balance)


def _cut(number: int, sweep: Sweep, removal: Body) -> Cut:
    step = Workingstep.model_validate(
        {"id": str(10 * (number + 1)), "operation": sweep.operation, "tool": sweep.tool.id, "features": ["x"]}
        | ({} if sweep.stated is None else {"bottom_z": sweep.stated})
    )
    return Cut(
        index=number,
        step=step,
        tool=sweep.tool,
        features=sweep.features,
        swept=sweep.swept,
        removal=removal,
        removal_volume=measure.volume(removal),
        gouge=None,
        in_workholding=None,
        reached=(),
        tip_z=sweep.tip,
        full_diameter_z=sweep.tip,
        entry_z=0.0,
        bottom_z_nominal=sweep.tip,
        plunges=sweep.plunges,
        spared=EMPTY,
    )


def part_of(body: Body) -> Part:
    """A part of that body without features."""
    return Part(body, (), 0, measure.bounding_box(body), measure.volume(body), "0" * 64)
