"""Setups' directions held to the part's own: a file of six digits, or a sloppy one, means the face that it nearly says.

A setup that stands a hair askew has level floors that are none, and walls that lean, be it by the digit to which a
direction was rounded. Within ANGLE of a direction of the part a setup's axis is that direction. Farther off, but nearer
than faces are told apart, it is neither: that is said, with the direction to write, before anything is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from schemas.base import Vec3, cross, dot, norm, scale, sub, unit
from schemas.plan import Setup, SetupPlan
from schemas.problem import Problem
from schemas.tolerances import ANGLE, COINCIDENT, SQUARE
from worker.kernel.directions import own_direction
from worker.part import Part

DIGITS = 6
"""Decimals of a direction that is told."""
WORLD: tuple[Vec3, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def aligned(plan: SetupPlan, part: Part) -> SetupPlan:
    """The plan with its setups along directions of the part where they mean them; raises Problem for one that stands
    neither along one nor clearly turned."""
    told = dict.fromkeys(unit(f.placement.z) for f in sorted(part.features, key=lambda f: f.id))
    owned = [*WORLD, *(own_direction(part.body, way) for way in told if max(map(abs, way)) < 1.0)]
    known = list(dict.fromkeys([*owned, *(scale(way, -1.0) for way in owned)]))
    setups = tuple(_of_setup(setup, known, f"/setups/{n}/origin") for n, setup in enumerate(plan.setups))
    return plan.model_copy(update={"setups": setups})


def _of_setup(setup: Setup, known: Sequence[Vec3], pointer: str) -> Setup:
    origin = setup.origin
    axis = _meant(origin.axis, known, f"{pointer}/axis")
    up = unit(axis)
    level = sub(origin.ref_direction, scale(up, dot(origin.ref_direction, up)))
    across = [way for way in known if abs(dot(way, up)) <= COINCIDENT]
    ref = _meant(level, across, f"{pointer}/ref_direction")
    found = {"axis": axis, "ref_direction": origin.ref_direction if ref is level else ref}
    return setup.model_copy(update={"origin": origin.model_copy(update=found)})


def _meant(way: Vec3, known: Sequence[Vec3], pointer: str) -> Vec3:
    """The direction itself, or the one of the part that it means."""
    off, _, near = min(((_angle(unit(way), one), n, one) for n, one in enumerate(known)), default=(math.pi, 0, way))
    if math.radians(ANGLE) < off <= SQUARE:
        raise _askew(off, near, pointer)
    return near if 0.0 < off <= math.radians(ANGLE) else way


def _angle(one: Vec3, other: Vec3) -> float:
    return math.atan2(norm(cross(one, other)), dot(one, other))


def _askew(off: float, near: Vec3, pointer: str) -> Problem:
    said = ", ".join(f"{round(c, DIGITS) + 0.0:g}" for c in near)
    return Problem(
        "plan.axis-askew",
        "A setup stands a hair askew",
        f"The setup is turned by {math.degrees(off):.3f} degrees from a direction of the part: too much to mean it "
        f"({ANGLE} degrees), and less than faces are told apart by.",
        pointer=pointer,
        remedy=f"Write the direction itself: [{said}].",
    )
