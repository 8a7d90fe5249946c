"""How long a workingstep takes: cutting, approach and tool change, in seconds. Always an estimate."""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.plan import ON_AXIS, Machine, Material, Workingstep
from schemas.report import TimeOut
from schemas.tool import Tool
from worker.estimate.cutting_data import FACING, ROUGH_WIDTH, CuttingData
from worker.estimate.deflection import ASSUMED, tip_deflection
from worker.estimate.forces import Load, estimate_load
from worker.estimate.geometry import CutSizes

APPROACH = 2.0
"""mm of feed before the tool meets metal (common practice)."""
RETRACT = 50.0
"""mm of rapid travel up and down between two cuts of a step, each way (common practice)."""
TO_THE_PART = 250.0
"""mm of rapid travel from the tool change to the part, each way (common practice)."""
RAPID = 15000.0
"""mm/min of rapid traverse when the machine states none (common practice)."""
TOOL_CHANGE = 8.0
"""s for a tool change, chip to chip, when the machine states none (common practice)."""


@dataclass(frozen=True)
class StepEstimate:
    """Time, cutting data and load of one workingstep; ``deflection`` of a milling cutter's tip in mm."""

    time: TimeOut
    data: CuttingData
    load: Load
    deflection: float = 0.0

    @property
    def values(self) -> dict[str, float]:
        """Numbers for the report, each with its unit in its name, whatever the plan's units."""
        found = {
            "cutspeed_m_min": self.data.cutspeed,
            "spindle_speed_1_min": self.data.spindle_speed,
            "feed_speed_mm_min": self.data.feed_speed,
            "removal_rate_cm3_min": self.load.removal_rate,
            "power_kw": self.load.motor_power,
            "torque_n_m": self.load.torque,
            "side_force_n": self.load.side_force,
            "feed_force_n": self.load.feed_force,
        }
        return found | ({"deflection_mm": self.deflection} if self.deflection else {})


def estimate_step(
    step: Workingstep,
    tool: Tool,
    material: Material | None,
    sizes: CutSizes,
    machine: Machine | None = None,
    *,
    tool_change: bool = True,
) -> StepEstimate:
    """Time and load of a workingstep. ``tool_change`` is False when the tool is already in the spindle."""
    data, load = estimate_load(step, tool, material, machine, sizes.depth or None)
    feed, feed_note = _feed_speed(data, machine)
    cutting = cutting_seconds(step, tool, data, sizes, feed)
    approach = approach_seconds(sizes, machine, tool_change=tool_change)
    change, change_note = _tool_change(machine) if tool_change else (0.0, "")
    deflection = tip_deflection(tool, load.side_force)
    notes = (*load.assumptions, feed_note, _travel_note(step), change_note, ASSUMED if deflection else "")
    time = TimeOut(
        cutting=cutting,
        approach=approach,
        tool_change=change,
        total=cutting + approach + change,
        assumptions=tuple(note for note in notes if note),
    )
    return StepEstimate(time, data, load, deflection)


def cutting_seconds(step: Workingstep, tool: Tool, data: CuttingData, sizes: CutSizes, feed: float) -> float:
    """Time with the tool in the cut or feeding to it, at ``feed`` mm/min."""
    if step.operation in ON_AXIS:
        return plunge_seconds(sizes.plunges, feed, there_and_back=step.operation == "tapping")
    if sizes.volume <= 0:
        return 0.0
    return max(removal_seconds(data, sizes.volume, feed), path_seconds(step, tool, data, sizes, feed))


def plunge_seconds(plunges: tuple[float, ...], feed: float, *, there_and_back: bool = False) -> float:
    """Tc = (approach + travel) / vf for each hole; a tap feeds back out again."""
    travel = sum(APPROACH + plunge for plunge in plunges)
    return 60 * travel * (2 if there_and_back else 1) / feed


def removal_seconds(data: CuttingData, volume: float, feed: float) -> float:
    """V / Q, a lower bound: corners, entries and moves through air come on top."""
    return 60 * volume / (data.axial * data.radial * feed)


def path_seconds(step: Workingstep, tool: Tool, data: CuttingData, sizes: CutSizes, feed: float) -> float:
    """Passes over the removal's extent: strips across a face, turns round or along a wall, level by level."""
    x, y, z = sizes.extent
    levels = max(1, math.ceil(z / data.axial - 1e-9))
    if step.operation in FACING:
        strips = max(1, math.ceil(min(x, y) / data.radial - 1e-9))
        return 60 * levels * strips * (max(x, y) + tool.diameter + 2 * APPROACH) / feed
    if data.radial < ROUGH_WIDTH * tool.diameter:  # a finishing pass follows the wall once a level
        return 60 * levels * (2 * (x + y) + 2 * APPROACH) / feed
    return 60 * levels * (max(x, y, tool.diameter) + 2 * APPROACH) / feed


def approach_seconds(sizes: CutSizes, machine: Machine | None, *, tool_change: bool) -> float:
    """Rapid travel to the part (with a tool change) and between the cuts of a step."""
    rapid = (machine.rapid_feed if machine else None) or RAPID
    between = max(1, len(sizes.plunges)) * 2 * RETRACT
    return 60 * (between + (2 * TO_THE_PART if tool_change else 0.0)) / rapid


def _feed_speed(data: CuttingData, machine: Machine | None) -> tuple[float, str]:
    limit = machine.max_feed if machine else None
    if limit is not None and data.feed_speed > limit:
        return limit, "feed held to the machine's greatest feed speed"
    return data.feed_speed, ""


def _tool_change(machine: Machine | None) -> tuple[float, str]:
    if machine and machine.tool_change_time is not None:
        return machine.tool_change_time, ""
    return TOOL_CHANGE, f"tool change {TOOL_CHANGE:g} s: common practice"


def _travel_note(step: Workingstep) -> str:
    if step.operation in ON_AXIS:
        return "no pecking or dwell"
    return "the larger of metal removed at full engagement and passes over the cut's extent; a real tool path is longer"
