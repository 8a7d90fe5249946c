"""Steps that the plan has but switches off: to switch one on again is the nearest remedy for what they would take."""

from __future__ import annotations

from collections.abc import Collection

from schemas.finding import Remedy
from schemas.plan import SetupPlan
from schemas.problem import json_pointer
from worker.checks.api import Context
from worker.checks.left._planned import NO_FINISH
from worker.locate import on_feature_of
from worker.resolve import resolve
from worker.stage.model import ResolvedStep


def switched_off(context: Context, features: Collection[str]) -> Remedy | None:
    """To enable the first step that is switched off and works on one of the features; None when there is none."""
    for number, step in _all_switched_off(context):
        named = {id for f in step.features for id in (f.id, *f.elements)}
        if named & set(features) and step.step.operation not in NO_FINISH:
            setup = context.plan.setups[number].id
            pointer = json_pointer(("setups", number, "workingsteps", step.index, "enabled"))
            return Remedy(text=f"Enable step {step.step.id} of setup {setup}.", pointer=pointer, value=True)
    return None


def _all_switched_off(context: Context) -> tuple[tuple[int, ResolvedStep], ...]:
    """Number of the setup and the step, in the plan's order."""

    def compute() -> tuple[tuple[int, ResolvedStep], ...]:
        plan = _all_on(context.plan)
        found = resolve(plan, context.part.features, on_feature_of(context.part))
        return tuple(
            (number, step)
            for number, setup in enumerate(context.plan.setups)
            for step in found[setup.id]
            if not setup.workingsteps[step.index].enabled
        )

    if all(step.enabled for setup in context.plan.setups for step in setup.workingsteps):
        return ()
    return context.once("left.switched_off", compute)


def _all_on(plan: SetupPlan) -> SetupPlan:
    setups = [
        setup.model_copy(
            update={"workingsteps": tuple(s.model_copy(update={"enabled": True}) for s in setup.workingsteps)}
        )
        for setup in plan.setups
    ]
    return plan.model_copy(update={"setups": tuple(setups)})
