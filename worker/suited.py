"""Which features an operation makes (ISO 14649-11): a drill that is told to make a pocket is refused, not judged as a
cutter of its size."""

from __future__ import annotations

import math
from collections.abc import Sequence

from schemas.base import Vec3, dot
from schemas.feature import HOLES, Feature
from schemas.plan import DRILLING, ON_AXIS, Workingstep
from schemas.problem import Problem
from schemas.tolerances import ANGLE, LEDGE
from schemas.tool import NEEDS_ANGLE, Tool
from schemas.units import Units
from worker.part import RECESSES

MOUTHS = DRILLING | {"center_drilling", "counter_sinking", "back_boring"}
"""Operations that may break a mouth's edge too, which the part may have as a chamfer of its own."""
WIDENING = DRILLING | {"boring", "reaming"}
"""Operations that make a wall round their own axis."""
FLOORED = frozenset({"bottom_and_side_rough_milling", "bottom_and_side_finish_milling", "freeform_operation"})
"""Milling that pointed cutters do too, along a V-groove."""
_ALONG, _ACROSS = math.cos(math.radians(ANGLE)), math.sin(math.radians(ANGLE))


def suited(
    step: Workingstep, tool: Tool, found: tuple[Feature, ...], axis: Vec3, pointer: str, *, of_any_class: bool
) -> tuple[Feature, ...]:
    """The features that a selector found, all of which the operation must make; of such as names no class those that it
    makes. Raises Problem ``plan.invalid`` where it makes one of them not, or none."""
    made = tuple(f for f in found if suits(step, tool, f, axis))
    for feature in made:
        _refuse_allowance(step, tool, feature, pointer)
    if len(made) == len(found) or (made and of_any_class):
        return made
    other = next(f for f in found if f not in made)
    raise Problem(
        "plan.invalid",
        "The plan is not valid",
        f"{step.operation} {_by(step, tool)}does not make {other.id}, a {other.class_}.",
        pointer=pointer,
        remedy=_remedy(step, tool, other),
    )


def as_cut(step: Workingstep, feature: Feature) -> Feature:
    """The feature as its step makes it: a plane face that leans is a chamfer to the flank that runs along it."""
    if step.operation == "chamfering" and feature.class_ == "planar_face":
        return feature.model_copy(update={"class_": "chamfer"})
    return feature


def _refuse_allowance(step: Workingstep, tool: Tool, feature: Feature, pointer: str) -> None:
    """A flank lies on its chamfer: it leaves nothing there but by the height of its tip."""
    stated = next((k for k in ("allowance_side", "allowance_bottom") if getattr(step, k)), None)
    if stated and feature.class_ == "chamfer" and tool.type in NEEDS_ANGLE and step.operation != "freeform_operation":
        raise Problem(
            "plan.invalid",
            "The plan is not valid",
            f"{step.operation} makes {feature.id} by the tool's flank: '{stated}' says nothing to it.",
            pointer=pointer,
            remedy=f"Leave out '{stated}', or give 'bottom_z', the height of the tip.",
        )


def walls_left(tool: Tool, parts: Sequence[Feature]) -> tuple[float, ...]:
    """What the tool leaves on the wall (mm) of each of some holes, or of what is left of one that is cut open."""
    sizes = {f.diameter if f.class_ in HOLES else 2 * (f.planar_radius or 0.0) or None for f in parts}
    return tuple(sorted((size - tool.diameter) / 2 for size in sizes if size is not None))


def no_such_wall(
    step: Workingstep, tool: Tool, feature: Feature, left: Sequence[float], pointer: str, out: Units
) -> Problem:
    """An allowance that the size of a tool on the axis belies: it makes the wall where its edge runs."""
    made = f"leaves {' or '.join(out.text(x) for x in left) or 'no wall'} there"
    own = next((x for x in left if x > LEDGE), None)
    kept = [out.text(2 * x + tool.diameter - 2 * step.allowance_side) for x in left]
    what = "Leave it out" if own is None else f"Set allowance_side to {out.text(own)}, or leave it out"
    return Problem(
        "plan.invalid",
        "The plan is not valid",
        f"{step.operation} on {feature.id} says 'allowance_side' {out.text(step.allowance_side)}, but a tool on the "
        f"hole's axis makes its own size: ø {out.text(tool.diameter)} {made}.",
        pointer=pointer,
        remedy=f"{what}; ø {' or '.join(kept)} leaves that much." if kept else f"{what}.",
    )


def suits(step: Workingstep, tool: Tool, feature: Feature, axis: Vec3) -> bool:
    """Whether the operation makes features of this class; milling and the breaking of edges may make any, but pointed
    cutters mill grooves with leaning flanks alone."""
    if _is_pointed(step, tool):
        leans = feature.slope is not None or _is_askew(feature, axis)
        return feature.class_ in RECESSES and leans and not tool.RE  # with a radius it is a cutter for rounds
    if step.operation in ON_AXIS:
        return feature.class_ in HOLES or _is_mouth(step, feature) or _is_cut_open(step, tool, feature, axis)
    if step.operation == "chamfering" and feature.class_ == "planar_face":
        return not feature.bosses and _leans(feature, axis)
    return step.operation != "chamfering" or feature.class_ not in {*RECESSES, "profile_feature"}


def _leans(face: Feature, axis: Vec3) -> bool:
    """Whether a plane face is neither level nor upright as the spindle sees it."""
    return _ACROSS < abs(dot(face.placement.z, axis)) < _ALONG


def _is_askew(feature: Feature, axis: Vec3) -> bool:
    """Whether its upright walls and level floor lean as the spindle sees them: a step is a vee then."""
    return abs(dot(feature.placement.z, axis)) < _ALONG


def _is_mouth(step: Workingstep, feature: Feature) -> bool:
    """A chamfer round an axis, or a rounded edge."""
    round_ = feature.class_ == "edge_round" or (feature.class_ == "chamfer" and feature.diameter is not None)
    return step.operation in MOUTHS and round_


def _is_cut_open(step: Workingstep, tool: Tool, feature: Feature, axis: Vec3) -> bool:
    """What is left of a hole that the outside cuts open along its axis: a groove, its bottom as round as the tool."""
    groove = feature.class_ == "slot" and feature.bottom == "radiused"
    if step.operation not in WIDENING or not groove or feature.planar_radius is None:
        return False
    return abs(dot(feature.placement.x, axis)) >= _ALONG and abs(tool.diameter / 2 - feature.planar_radius) <= LEDGE


def _by(step: Workingstep, tool: Tool) -> str:
    return f"with a {tool.type} " if _is_pointed(step, tool) else ""


def _is_pointed(step: Workingstep, tool: Tool) -> bool:
    return tool.type in NEEDS_ANGLE and step.operation in FLOORED


def _remedy(step: Workingstep, tool: Tool, other: Feature) -> str:
    if step.operation == "chamfering" and other.class_ in RECESSES and other.slope is not None:
        return f"State bottom_and_side_finish_milling: so a pointed cutter mills {other.id} along its flanks."
    if _is_pointed(step, tool) and other.class_ in ("chamfer", "edge_round"):
        return f"State chamfering: so the tool's flank makes {other.id}."
    return f"Name {_wanted(step, tool)}, or state the operation that makes {other.id}."


def _wanted(step: Workingstep, tool: Tool) -> str:
    if _is_pointed(step, tool):
        return "a groove with leaning flanks, use a cutter with a flat or round end"
    return "a chamfer, a rounded edge or a plane face that leans" if step.operation == "chamfering" else "a hole"
