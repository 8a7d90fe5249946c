"""Estimated power and torque of a step against the machine's, where the plan states all that they rest on."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft
from worker.estimate.cutting_data import TURNING_ON_AXIS, CuttingData
from worker.estimate.forces import Load, estimate_load
from worker.estimate.materials import cuttability
from worker.stage.model import Cut, Stage


def overloads(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """Power or torque over the spindle's; nothing where speed, feed, depths or group are not stated."""
    machine = context.plan.machine
    if machine is None or not _stated(context, cut):
        return
    height = max(cut.entry_z - cut.tip_z, 0.0)
    data, load = estimate_load(cut.step, cut.tool, context.plan.workpiece.material, machine, height)
    if machine.max_spindle_power is not None and load.motor_power > machine.max_spindle_power:
        yield _power(context, stage, cut, load, machine.max_spindle_power)
    if machine.max_spindle_torque is not None and load.torque > machine.max_spindle_torque:
        yield _torque(context, stage, cut, data, load, machine.max_spindle_torque)


def _stated(context: Context, cut: Cut) -> bool:
    material, technology = context.plan.workpiece.material, cut.step.technology
    speed = technology.spindle_speed is not None or technology.cutspeed is not None
    feed = technology.feed_per_tooth is not None or technology.feed_per_rev is not None
    depths = technology.axial_cutting_depth is not None and technology.radial_cutting_depth is not None
    on_axis = cut.step.operation in TURNING_ON_AXIS
    grouped = material is not None and material.iso513_group is not None
    return grouped and speed and (feed or cut.step.operation == "tapping") and (depths or on_axis)


def _power(context: Context, stage: Stage, cut: Cut, load: Load, limit: float) -> Draft:
    """Power goes with the speed."""
    technology = cut.step.technology
    key = "spindle_speed" if technology.spindle_speed is not None else "cutspeed"
    value = _down((technology.spindle_speed or technology.cutspeed or 0.0) * limit / load.motor_power)
    return Draft(
        message=f"Estimate: the cut takes {load.motor_power:.2f} kW of the motor; the machine's gives {limit:g} kW.",
        measured=round(load.motor_power, 3),
        limit=limit,
        unit="kW",
        remedy=Remedy(
            text=f"Set {key} to {value:g}.", pointer=context.of_step(stage, cut, "technology", key), value=value
        ),
    )


def _torque(context: Context, stage: Stage, cut: Cut, data: CuttingData, load: Load, limit: float) -> Draft:
    """Torque of a mill goes with the axial depth, that of a drill with the feed to the power 1 - mc."""
    share = limit / load.torque
    if cut.step.operation == "tapping":
        remedy = Remedy(text="Tap it on a machine with more torque, or by hand.")
    elif cut.step.operation in TURNING_ON_AXIS:
        feed, key = share ** (1 / (1 - cuttability(context.plan.workpiece.material).mc)), _feed_key(cut)
        remedy = _set(context, stage, cut, key, feed * float(getattr(cut.step.technology, key)))
    else:
        remedy = _set(context, stage, cut, "axial_cutting_depth", share * data.axial)
    return Draft(
        message=f"Estimate: the cut needs {load.torque:.1f} N m; the machine's spindle gives {limit:g} N m.",
        measured=round(load.torque, 2),
        limit=limit,
        unit="N m",
        remedy=remedy,
    )


def _feed_key(cut: Cut) -> str:
    return "feed_per_rev" if cut.step.technology.feed_per_rev is not None else "feed_per_tooth"


def _set(context: Context, stage: Stage, cut: Cut, key: str, wanted: float) -> Remedy:
    value = _down(wanted)
    return Remedy(
        text=f"Set {key} to {context.text(value)}.",
        pointer=context.of_step(stage, cut, "technology", key),
        value=value,
        unit="mm",
    )


def _down(value: float) -> float:
    """Rounded down to four digits: still within the limit."""
    return float(f"{value * (1 - 5e-4):.4g}")
