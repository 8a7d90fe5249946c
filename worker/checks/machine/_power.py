"""Power and torque that a step asks of the spindle: estimates, told only where the plan states all they need."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import QuantityUnit, Remedy
from worker.checks.api import Context, Draft
from worker.checks.heights import first_place
from worker.checks.milling import travels
from worker.estimate.forces import Load, estimate_load
from worker.estimate.materials import cuttability
from worker.stage.model import Cut, Stage


def power_drafts(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """Motor power and torque at the spindle over what the machine states."""
    machine, load = context.plan.machine, _load(context, cut)
    if machine is None or load is None:
        return
    if machine.max_spindle_power is not None and load.motor_power > machine.max_spindle_power:
        yield _draft(context, stage, cut, "power", load.motor_power, machine.max_spindle_power, "kW")
    if machine.max_spindle_torque is not None and load.torque > machine.max_spindle_torque:
        yield _draft(context, stage, cut, "torque", load.torque, machine.max_spindle_torque, "N m")


def _load(context: Context, cut: Cut) -> Load | None:
    """The load from the plan's own data; None where material, feed or depths are not stated."""
    technology, material = cut.step.technology, context.plan.workpiece.material
    fed = technology.feed_per_tooth is not None or technology.feed_per_rev is not None
    deep = technology.axial_cutting_depth is not None and technology.radial_cutting_depth is not None
    if material is None or material.iso513_group is None or not fed or (travels(cut) and not deep):
        return None
    height = max(cut.entry_z - cut.tip_z, 0.0)
    return estimate_load(cut.step, cut.tool, material, context.plan.machine, height)[1]


def _draft(
    context: Context, stage: Stage, cut: Cut, what: str, asked: float, limit: float, unit: QuantityUnit
) -> Draft:
    return Draft(
        message=f"Estimate: the step asks for {asked:.3g} {unit} of {what}; the spindle has {limit:.3g} {unit}.",
        measured=round(asked, 3),
        limit=limit,
        unit=unit,
        at=first_place(cut),
        remedy=_remedy(context, stage, cut, limit / asked),
    )


def _remedy(context: Context, stage: Stage, cut: Cut, share: float) -> Remedy:
    """Power and torque of a milling cut go with its depth, a drill's with its feed to the power 1 - mc (Kienzle)."""
    technology = cut.step.technology
    if travels(cut) and technology.axial_cutting_depth is not None:
        value = int(technology.axial_cutting_depth * share * 1000) / 1000
        return Remedy(
            text=f"Cut {context.text(value)} deep at a time.",
            pointer=context.of_step(stage, cut, "technology", "axial_cutting_depth"),
            value=value,
            unit="mm",
        )
    key = "feed_per_rev" if technology.feed_per_rev is not None else "feed_per_tooth"
    exponent = 1 / (1 - cuttability(context.plan.workpiece.material).mc)
    value = int((getattr(technology, key) or 0.0) * share**exponent * 1e5) / 1e5
    return Remedy(
        text=f"Feed {context.text(value)}, or drill a smaller pilot first.",
        pointer=context.of_step(stage, cut, "technology", key),
        value=value,
        unit="mm",
    )
