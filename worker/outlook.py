"""What the setups of a plan see: a direction is free for a tool or not, whether or not the part suggests it."""

from __future__ import annotations

import math
from dataclasses import replace

from schemas.base import Vec3, cross, dot, norm, unit
from schemas.feature import HOLES
from schemas.plan import SetupPlan
from schemas.tolerances import SEEN_ANGLE
from worker.part import Part
from worker.recognise.outlook import seen_too
from worker.resolve import Resolved


def seen_by_setups(part: Part, plan: SetupPlan, resolved: Resolved) -> Part:
    """The part, whose features know of each setup that works on them whether it sees them.

    Recognition tries the directions that the part's own faces suggest; a tilted setup may have another. The part itself
    when there is nothing to ask.
    """
    asked: dict[str, tuple[Vec3, ...]] = {}
    for setup in plan.setups:
        axis = unit(setup.origin.axis)
        for feature in (f for step in resolved.get(setup.id, ()) for f in step.features):
            known = asked.get(feature.id, ())
            if feature.class_ not in HOLES and not _among(axis, (*feature.access, *known)):
                asked[feature.id] = (*known, axis)
    return replace(part, features=seen_too(part.body, part.features, asked)) if asked else part


def _among(axis: Vec3, directions: tuple[Vec3, ...]) -> bool:
    sine = math.sin(math.radians(SEEN_ANGLE))
    return any(dot(d, axis) > 0 and norm(cross(d, axis)) <= sine for d in directions)
