"""Speeds, feeds and depths of a workingstep: the plan's own where stated, else starting values per ISO 513 group.

Lengths in mm, cutting speed in m/min, spindle speed in 1/min. Starting values are on the careful side of the
ranges in their sources; each one that is taken is named among the assumptions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.plan import ON_AXIS, ROUGH, Machine, Technology, Workingstep
from schemas.tool import Tool
from worker.estimate.materials import Cuttability

MILLING_SPEED = {"P": 160.0, "M": 60.0, "K": 150.0, "N": 240.0, "S": 20.0, "H": 40.0}
"""Solid carbide end mills, m/min: low end of a tool maker's user guide 2022 (groups 6, 14, 16, 33, 38); N: 800
ft/min, low end of a public chart for wrought aluminium."""
FEED_SHARE = {"P": 0.004, "M": 0.003, "K": 0.006, "N": 0.008, "S": 0.003, "H": 0.001}
"""Feed per tooth as a share of DC: 'fz start' of the same guide; N: 0.003 in at 3/8 in of the same chart."""
GREATEST_FEED_PER_TOOTH = 0.15
"""mm, whatever the diameter: common practice for facing cutters."""
MILLING_SOURCE = "starting values for solid carbide, tool maker's user guide 2022 (N: public chart)"

DRILL_SPEED = {"P": 23.0, "M": 15.0, "K": 24.0, "N": 61.0, "S": 6.0, "H": 5.0}
"""HSS drills, m/min: 75, 50, 80, 200, 20 and 15 ft/min of public speed charts (steel 175-225 HB, austenitic 316,
grey iron 190-220 HB, wrought aluminium, nickel and titanium, 45-50 HRC)."""
DRILL_FEEDS = ((3.175, 0.05), (6.35, 0.10), (12.7, 0.18), (25.4, 0.28), (math.inf, 0.44))
"""Largest diameter in mm, feed per revolution in mm: middle of 0.001-0.003 in up to 1/8 in and so on, same chart."""
HARD_FEED_SHARE = {"M": 0.5, "S": 0.5, "H": 0.5}
"""Tough and hard groups take the low end of these feeds."""
DRILL_SOURCE = "starting values for HSS, public speed and feed charts"
REAM_SPEED_SHARE = 2 / 3
"""Reaming at two thirds of the drilling speed: ratio of the two columns of the same charts."""
REAM_FEED_PER_TOOTH = 0.06
"""mm: 0.0025 in a flute, same charts."""
TAP_SPEED = {"P": 12.0, "M": 5.0, "K": 15.0, "N": 15.0, "S": 3.0, "H": 2.0}
"""m/min: 40, about 15, 50, 50, 10 ft/min of a public tapping chart; H: common practice."""

USUAL_TEETH = {"facemill": 5, "shouldermill": 4, "reaming_cutting_tool": 6, "twist_drill": 2, "t_slot_mill": 6}
"""Number of teeth when NOF is not stated (common practice); other mills 3, other tools 1."""
ROUGH_DEPTH, ROUGH_WIDTH = 0.5, 0.5
"""Shares of DC that a roughing pass takes, axially and radially (common practice)."""
FINE_WIDTH = 0.1
"""Share of DC that a finishing pass along a wall takes radially (common practice)."""
FACE_DEPTH, FACE_WIDTH = 2.0, 0.7
"""mm axially and share of DC radially of a facing pass (common practice)."""

FACING = frozenset({"plane_rough_milling", "plane_finish_milling"})


@dataclass(frozen=True)
class CuttingData:
    """What the spindle and the feed do in a workingstep.

    ``cutspeed`` m/min at the cutting diameter, ``spindle_speed`` 1/min, ``feed_per_tooth`` and ``feed_per_rev`` mm,
    ``axial`` and ``radial`` the depths of cut in mm (``radial`` at most DC). ``stated`` tells whether the plan
    gave speed and feed itself.
    """

    cutspeed: float
    spindle_speed: float
    feed_per_tooth: float
    teeth: int
    axial: float
    radial: float
    stated: bool
    assumptions: tuple[str, ...]

    @property
    def feed_per_rev(self) -> float:
        """Mm per revolution."""
        return self.feed_per_tooth * self.teeth

    @property
    def feed_speed(self) -> float:
        """Mm per minute."""
        return self.feed_per_rev * self.spindle_speed


def spindle_speed(cutspeed: float, diameter: float) -> float:
    """n in 1/min from vc in m/min and the diameter in mm: n = 1000 vc / (pi DC)."""
    return 1000 * cutspeed / (math.pi * diameter)


def cutting_speed(spindle: float, diameter: float) -> float:
    """Vc in m/min from n in 1/min and the diameter in mm."""
    return math.pi * diameter * spindle / 1000


def teeth_of(tool: Tool) -> int:
    """NOF, or the usual number for the tool's class."""
    if tool.NOF is not None:
        return tool.NOF
    if tool.type == "tapping_cutting_tool" or tool.type in ("spotdrill", "countersink", "rotating_boring_cutting_tool"):
        return 1
    return USUAL_TEETH.get(tool.type, 3)


def cutting_data(
    step: Workingstep, tool: Tool, material: Cuttability, machine: Machine | None = None, depth: float | None = None
) -> CuttingData:
    """The data that the step runs with; ``depth`` is the height of metal that it meets (mm), if known."""
    speed, speed_note = _spindle(step, tool, material.group, machine)
    feed, feed_note = _feed_per_tooth(step, tool, material.group)
    axial, radial, depth_notes = _depths(step, tool, depth)
    notes = [speed_note, feed_note, *depth_notes]
    if tool.NOF is None and feed_note:
        notes.append(f"{teeth_of(tool)} teeth taken for {tool.id}, NOF not stated")
    return CuttingData(
        cutspeed=cutting_speed(speed, tool.diameter),
        spindle_speed=speed,
        feed_per_tooth=feed,
        teeth=teeth_of(tool),
        axial=axial,
        radial=radial,
        stated=not (speed_note or feed_note),
        assumptions=tuple(note for note in notes if note),
    )


def _spindle(step: Workingstep, tool: Tool, group: str, machine: Machine | None) -> tuple[float, str]:
    """Spindle speed; a starting value (never a stated one) is held within the machine's greatest speed."""
    tech = step.technology
    if tech.spindle_speed is not None:
        return tech.spindle_speed, ""
    if tech.cutspeed is not None:
        return spindle_speed(tech.cutspeed, tool.diameter), ""
    cutspeed, source = _usual_speed(step, group)
    wanted = spindle_speed(cutspeed, tool.diameter)
    note = f"cutting speed {cutspeed:.3g} m/min for group {group}: {source}"
    limit = machine.max_spindle_speed if machine else None
    if limit is not None and wanted > limit:
        return limit, f"{note}; held to the machine's {limit:g} 1/min"
    return wanted, note


def _usual_speed(step: Workingstep, group: str) -> tuple[float, str]:
    if step.operation == "tapping":
        return TAP_SPEED[group], "starting values for taps, public chart"
    if step.operation == "reaming":
        return DRILL_SPEED[group] * REAM_SPEED_SHARE, DRILL_SOURCE
    if step.operation in ON_AXIS:
        return DRILL_SPEED[group], DRILL_SOURCE
    return MILLING_SPEED[group], MILLING_SOURCE


def _feed_per_tooth(step: Workingstep, tool: Tool, group: str) -> tuple[float, str]:
    if step.operation == "tapping" and tool.screw is not None:
        return tool.screw.pitch / teeth_of(tool), ""  # the thread's pitch is the feed
    if stated := _stated_feed(step.technology, teeth_of(tool)):
        return stated, ""
    if step.operation == "reaming":
        return REAM_FEED_PER_TOOTH, f"feed {REAM_FEED_PER_TOOTH} mm a tooth: {DRILL_SOURCE}"
    if step.operation in ON_AXIS:
        per_rev = next(f for d, f in DRILL_FEEDS if tool.diameter <= d) * HARD_FEED_SHARE.get(group, 1.0)
        return per_rev / teeth_of(tool), f"feed {per_rev:g} mm/rev: {DRILL_SOURCE}"
    feed = min(FEED_SHARE[group] * tool.diameter, GREATEST_FEED_PER_TOOTH)
    return feed, f"feed {feed:.3g} mm a tooth: {MILLING_SOURCE}"


def _stated_feed(tech: Technology, teeth: int) -> float | None:
    if tech.feed_per_rev is not None:
        return tech.feed_per_rev / teeth
    return tech.feed_per_tooth


def _depths(step: Workingstep, tool: Tool, depth: float | None) -> tuple[float, float, list[str]]:
    """Axial and radial depth of cut, and what had to be assumed."""
    tech, notes = step.technology, []
    if step.operation in ON_AXIS:
        return depth or tool.edge_length, tool.diameter, []
    axial, radial = tech.axial_cutting_depth, tech.radial_cutting_depth
    if axial is None:
        axial = min(_usual_axial(step, tool), tool.edge_length)
        notes.append(f"axial depth of cut {axial:.3g} mm at most: common practice")
    if radial is None:
        radial = _usual_radial(step, tool)
        notes.append(f"radial depth of cut {radial:.3g} mm: common practice")
    if depth is not None and depth > 0:
        axial = min(axial, depth)
    return axial, min(radial, tool.diameter), notes


def _usual_axial(step: Workingstep, tool: Tool) -> float:
    if step.operation in FACING:
        return FACE_DEPTH
    return ROUGH_DEPTH * tool.diameter if step.operation in ROUGH else tool.diameter


def _usual_radial(step: Workingstep, tool: Tool) -> float:
    if step.operation in FACING:
        return FACE_WIDTH * tool.diameter
    return (ROUGH_WIDTH if step.operation in ROUGH else FINE_WIDTH) * tool.diameter
