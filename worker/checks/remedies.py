"""Remedies that several rules compute: which plan value to change, and to what."""

from __future__ import annotations

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context
from worker.stage.model import Cut, Stage

DIGITS = 6
"""Decimals (mm) of an allowance that is told: nothing stays of one that is taken back."""


def tool_diameter(context: Context, stage: Stage, cut: Cut, diameter: float) -> Remedy:
    """A tool of the same type with that DC (mm): one that the plan has, else the tool's own DC."""
    for tool in context.plan.tools:
        if tool.type == cut.tool.type and tool.DC is not None and abs(tool.DC - diameter) <= LENGTH:
            return Remedy(
                text=f"Use tool {tool.id}, ø {context.text(diameter)}.",
                pointer=context.of_step(stage, cut, "tool"),
                value=tool.id,
            )
    return Remedy(
        text=f"Use a tool of ø {context.text(diameter)}.",
        pointer=context.of_tool(cut.tool, "DC"),
        value=diameter,
        unit="mm",
    )


def smaller_tool(context: Context, stage: Stage, cut: Cut, largest: float) -> Remedy:
    """The largest tool of the plan with the same type up to that DC (mm), else the tool's own DC."""
    fitting = [
        t
        for t in context.plan.tools
        if t.type == cut.tool.type
        and t.DC is not None
        and largest + LENGTH >= t.DC
        and t.corner_radius == cut.tool.corner_radius
    ]
    if fitting:
        return tool_diameter(context, stage, cut, max(t.DC for t in fitting if t.DC is not None))
    return Remedy(
        text=f"Use a cutter of at most ø {context.text(largest)}.",
        pointer=context.of_tool(cut.tool, "DC"),
        value=largest,
        unit="mm",
    )


def deeper(context: Context, stage: Stage, cut: Cut, by: float) -> Remedy:
    """Let the tool go deeper by so much (mm; negative: less deep), by the value that states its depth; by its tip's
    height where the full width, from which depths count, is to stay above the face, as a countersink's does."""
    step = cut.step
    if step.cutting_depth is not None and step.cutting_depth + by <= LENGTH:
        tip = cut.tip_z - by
        text = f"State bottom_z {context.text(tip)} in place of cutting_depth: the full width stays above the face."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "bottom_z"), value=tip, unit="mm")
    if step.bottom_z is not None:
        name, value = "bottom_z", step.bottom_z - by
    elif step.cutting_depth is not None:
        name, value = "cutting_depth", step.cutting_depth + by
    elif by > 0 and step.allowance_bottom >= by - LENGTH:
        name, value = "allowance_bottom", max(step.allowance_bottom - by, 0.0)
    elif by < 0 and step.allowance_bottom < 0:
        name, value = "allowance_bottom", round(step.allowance_bottom - by, DIGITS) + 0.0
    else:
        name, value = "overcut_length", max(step.overcut_length + by, 0.0)
    return Remedy(
        text=f"Set {name} to {context.text(value)}.",
        pointer=context.of_step(stage, cut, name),
        value=value,
        unit="mm",
    )
