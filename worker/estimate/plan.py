"""Estimates of a whole plan from its cut stages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from schemas.plan import ON_AXIS, SetupPlan
from schemas.report import CostOut
from worker.estimate.cost import estimate_cost
from worker.estimate.geometry import CutSizes
from worker.estimate.times import StepEstimate, estimate_step
from worker.kernel import measure
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage


@dataclass(frozen=True)
class PlanEstimate:
    """``steps`` by (setup id, workingstep id); ``setups`` seconds a part in each; ``cost`` where rates are stated."""

    steps: Mapping[tuple[str, str], StepEstimate]
    setups: Mapping[str, float]
    cost: CostOut | None

    @property
    def time(self) -> float:
        """Seconds for one part over all setups."""
        return sum(self.setups.values())


def estimate_plan(plan: SetupPlan, stages: Sequence[Stage]) -> PlanEstimate:
    """Time, load and cost of every enabled workingstep; stages in the plan's order."""
    steps: dict[tuple[str, str], StepEstimate] = {}
    setups: dict[str, float] = {}
    for stage in stages:
        found = _stage(plan, stage)
        steps.update({(stage.setup.id, id): estimate for id, estimate in found.items()})
        setups[stage.setup.id] = sum(e.time.total for e in found.values())
    cost = (
        estimate_cost(plan.rates, sum(setups.values()), len(stages), _stock_mass(plan, stages)) if plan.rates else None
    )
    return PlanEstimate(steps, setups, cost)


def sizes_of(cut: Cut, stage: Stage) -> CutSizes:
    """What the time of a cut depends on, measured in the setup's frame."""
    extent = (0.0, 0.0, 0.0) if is_empty(cut.removal) else measure.bounding_box(cut.removal, stage.frame).size
    plunges = tuple(max(p.entry_z - p.tip_z, 0.0) for p in cut.plunges)
    if cut.step.operation in ON_AXIS and not plunges:
        plunges = (max(cut.entry_z - cut.tip_z, 0.0),)
    return CutSizes(cut.removal_volume, extent, plunges)


def _stage(plan: SetupPlan, stage: Stage) -> dict[str, StepEstimate]:
    found: dict[str, StepEstimate] = {}
    in_spindle = None
    for cut in stage.cuts:
        found[cut.step.id] = estimate_step(
            cut.step,
            cut.tool,
            plan.workpiece.material,
            sizes_of(cut, stage),
            plan.machine,
            tool_change=cut.tool.id != in_spindle,
        )
        in_spindle = cut.tool.id
    return found


def _stock_mass(plan: SetupPlan, stages: Sequence[Stage]) -> float | None:
    """Mass of the blank in kg (the first as-is stock), where the plan states a density."""
    material = plan.workpiece.material
    if material is None or material.density_kg_m3 is None or not stages:
        return None
    return stages[0].balance.as_is * 1e-9 * material.density_kg_m3
