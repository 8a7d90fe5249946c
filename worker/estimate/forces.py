"""Chip thickness, specific force, power, torque and force of a cut (Kienzle); mm, N, N m, kW, m/min.

Formulas as printed in tool makers' technical guides; each function names its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.plan import ON_AXIS, Machine, Material, Workingstep
from schemas.tool import Tool
from worker.estimate.cutting_data import FACING, CuttingData, cutting_data
from worker.estimate.materials import Cuttability, cuttability

EFFICIENCY = 0.8
"""Share of the motor's power that reaches the cut (worked problem of a tool maker's technical guide)."""


@dataclass(frozen=True)
class Load:
    """What a cut asks of spindle and workholding; always an estimate.

    ``removal_rate`` cm3/min while fully engaged, ``chip_thickness`` mm (mean for mills), ``specific_force`` N/mm2,
    ``power`` kW at the cut and ``motor_power`` kW before losses, ``torque`` N m, ``tangential_force`` N (mean, at
    DC/2), ``side_force`` N: the largest force square to the tool's axis, which tries to push the part sideways,
    ``feed_force`` N: along the tool's axis, downwards. ``assumptions`` name all that the plan did not state.
    """

    removal_rate: float
    chip_thickness: float
    specific_force: float
    power: float
    motor_power: float
    torque: float
    tangential_force: float
    side_force: float
    feed_force: float
    assumptions: tuple[str, ...] = ()


def estimate_load(
    step: Workingstep,
    tool: Tool,
    material: Material | None,
    machine: Machine | None = None,
    depth: float | None = None,
) -> tuple[CuttingData, Load]:
    """Cutting data and load of one workingstep; ``depth`` is the height of metal it meets (mm), if known."""
    cut = cuttability(material)
    data = cutting_data(step, tool, cut, machine, depth)
    return data, load_of(step, tool, data, cut)


def load_of(step: Workingstep, tool: Tool, data: CuttingData, material: Cuttability) -> Load:
    """The load of a step that runs with ``data``."""
    if step.operation == "tapping":
        return tapping_load(tool, data, material)
    if step.operation in ON_AXIS:
        return drilling_load(tool, data, material)
    return milling_load(tool, data, material, centred=step.operation in FACING)


def engagement_angle(radial: float, diameter: float, *, centred: bool = False) -> float:
    """Arc in radians over which a tooth cuts: acos(1 - 2 ae/DC) beside a wall, 2 asin(ae/DC) centred over ae."""
    share = min(radial / diameter, 1.0)
    return 2 * math.asin(share) if centred else math.acos(1 - 2 * share)


def mean_chip_thickness(
    feed_per_tooth: float, radial: float, diameter: float, edge_angle: float = 90.0, *, centred: bool = False
) -> float:
    """Hm in mm: fz sin(KAPR) (2 ae/DC) / phi; one formula for both cases, with their own arc phi."""
    share = min(radial / diameter, 1.0)
    arc = engagement_angle(radial, diameter, centred=centred)
    return feed_per_tooth * math.sin(math.radians(edge_angle)) * 2 * share / arc


def largest_chip_thickness(feed_per_tooth: float, radial: float, diameter: float, *, centred: bool = False) -> float:
    """Hex in mm: 2 fz sqrt(ae/DC - (ae/DC)^2) beside a wall up to half the diameter, else fz."""
    share = min(radial / diameter, 1.0)
    return feed_per_tooth if centred or share >= 0.5 else 2 * feed_per_tooth * math.sqrt(share - share**2)


def teeth_in_cut(teeth: int, arc: float) -> float:
    """Mean number of teeth that cut at once: z phi / (2 pi)."""
    return teeth * arc / (2 * math.pi)


def torque_of(power: float, spindle_speed: float) -> float:
    """Mc in N m from Pc in kW and n in 1/min: 30000 Pc / (pi n)."""
    return 30000 * power / (math.pi * spindle_speed)


def milling_load(tool: Tool, data: CuttingData, material: Cuttability, *, centred: bool = False) -> Load:
    """Pc = ap ae vf kc / 60e6; side force = ap h kc(h) at the thickest chip, times the teeth that cut at once."""
    dc, angle = tool.diameter, tool.KAPR or 90.0
    chip = mean_chip_thickness(data.feed_per_tooth, data.radial, dc, angle, centred=centred)
    kc = material.specific_force(chip)
    rate = data.axial * data.radial * data.feed_speed / 1000
    power = rate * kc / 60000
    torque = torque_of(power, data.spindle_speed)
    arc = engagement_angle(data.radial, dc, centred=centred)
    side = peak_tooth_force(tool, data, material, centred=centred) * max(1.0, teeth_in_cut(data.teeth, arc))
    return Load(
        removal_rate=rate,
        chip_thickness=chip,
        specific_force=kc,
        power=power,
        motor_power=power / EFFICIENCY,
        torque=torque,
        tangential_force=torque / (dc / 2000),
        side_force=side,
        feed_force=0.0,
        assumptions=(*data.assumptions, material.source),
    )


def peak_tooth_force(tool: Tool, data: CuttingData, material: Cuttability, *, centred: bool = False) -> float:
    """Largest tangential force of one tooth in N: F = ap h kc(h) with h the thickest chip."""
    thickest = largest_chip_thickness(data.feed_per_tooth, data.radial, tool.diameter, centred=centred)
    return data.axial * thickest * material.specific_force(thickest)


def drilling_load(tool: Tool, data: CuttingData, material: Cuttability) -> Load:
    """h = fn/2 sin(SIG/2), Pc = fn vc DC kc / 240e3, Ff = 0.5 kc DC/2 fn sin(SIG/2), as for a drill into the full.

    Other tools on a hole's axis are taken as drills too: they cut less, so the estimate is on the safe side.
    """
    half = math.radians((tool.SIG or 180.0) / 2 if tool.type != "twist_drill" else tool.flank_half_angle or 90.0)
    chip = data.feed_per_rev / 2 * math.sin(half)
    kc = material.specific_force(chip)
    power = data.feed_per_rev * data.cutspeed * tool.diameter * kc / 240000
    torque = torque_of(power, data.spindle_speed)
    return Load(
        removal_rate=math.pi * tool.diameter**2 / 4 * data.feed_speed / 1000,
        chip_thickness=chip,
        specific_force=kc,
        power=power,
        motor_power=power / EFFICIENCY,
        torque=torque,
        tangential_force=torque / (tool.diameter / 2000),
        side_force=0.0,
        feed_force=0.5 * kc * tool.diameter / 2 * data.feed_per_rev * math.sin(half),
        assumptions=(*data.assumptions, material.source),
    )


def tapping_load(tool: Tool, data: CuttingData, material: Cuttability) -> Load:
    """Mc = P^2 D kc / 8000 with kc = kc1.1 (common practice for cut threads; from memory, no standard)."""
    pitch = tool.screw.pitch if tool.screw else data.feed_per_rev
    torque = pitch**2 * tool.diameter * material.kc11 / 8000
    power = torque * math.pi * data.spindle_speed / 30000
    return Load(
        removal_rate=math.pi * tool.diameter * pitch / 4 * data.feed_speed / 1000,
        chip_thickness=pitch,
        specific_force=material.kc11,
        power=power,
        motor_power=power / EFFICIENCY,
        torque=torque,
        tangential_force=torque / (tool.diameter / 2000),
        side_force=0.0,
        feed_force=0.0,
        assumptions=(*data.assumptions, "torque of tapping P^2 D kc1.1 / 8000: common practice", material.source),
    )
