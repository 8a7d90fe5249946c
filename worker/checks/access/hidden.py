"""access.hidden: from the setup's axis a straight tool cannot see the feature."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.base import Vec3, cross, dot, norm
from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import SEEN_ANGLE
from schemas.tool import UNDERCUTTERS
from worker.checks.api import Context, Draft, Skip, rule
from worker.kernel.shadow import Skyline
from worker.stage.model import Cut, Stage
from worker.stage.removal.crowns import is_crown

FLANK = frozenset(
    {
        "side_rough_milling",
        "side_finish_milling",
        "bottom_and_side_rough_milling",
        "bottom_and_side_finish_milling",
        "freeform_operation",
    }
)
UNDERCUT = frozenset({"slot", "step", "open_pocket", "closed_pocket", "region"})
"""Classes whose hidden walls the head of an undercutting cutter reaches."""
SQUARE = math.sin(math.radians(SEEN_ANGLE))


@rule(
    "access.hidden",
    scope="cut",
    metal="none",
    facets=True,
    why="What the spindle's axis cannot see, a straight tool cannot cut in this clamping.",
    reference="ISO 14649-10 feature placement; the part's own faces, no limit of choice",
)
def hidden(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Undercutting tools and back boring reach round a corner; flanks of a cutter reach walls along the axis."""
    if cut.step.operation in ("back_boring", "edge_breaking"):
        yield Skip("the tool reaches behind an edge, or removes nothing")
        return
    unseen = unseen_by(context, stage, cut)
    if unseen:
        yield _draft(context, stage, cut, unseen)


def unseen_by(context: Context, stage: Stage, cut: Cut) -> tuple[Feature, ...]:
    """The step's features that its axis cannot see, nor its cutter reach round a corner."""
    return tuple(f for f in cut.features if not sees(context, stage, cut, f) and not _passed(context, stage, cut, f))


def _passed(context: Context, stage: Stage, cut: Cut, feature: Feature) -> bool:
    """True for a groove, T-slot or dovetail that an undercutting cutter works on from this axis: the step at hand, or
    another one, for which a straight cutter opens the mouth."""
    if feature.class_ not in UNDERCUT:
        return False
    if cut.tool.type in UNDERCUTTERS:
        return True
    return any(
        other.tool.type in UNDERCUTTERS and feature in other.features and _same(there.frame.z, stage.frame.z)
        for there, other in context.sequence
    )


def sees(context: Context, stage: Stage, cut: Cut, feature: Feature) -> bool:
    """Whether the axis is an access direction of the feature or of an element, or runs along a wall to be milled."""
    parts = [context.part.feature(id) for id in feature.elements]
    if any(_allows(one, stage.frame.z) for one in (feature, *parts)):
        return True
    if is_crown(Skyline(context.part.body, stage.frame), feature):
        return True  # it takes what looks up of a contour that lies across
    wall = feature.class_ == "planar_face" and cut.step.operation in FLANK
    return wall and abs(dot(feature.placement.z, stage.frame.z)) <= SQUARE


def _allows(feature: Feature, axis: Vec3) -> bool:
    """By the sine: a cosine this close to 1 would ask for more digits than a direction is written with."""
    return any(_same(d, axis) for d in feature.access)


def _same(a: Vec3, b: Vec3) -> bool:
    return dot(a, b) > 0 and norm(cross(a, b)) <= SQUARE


def _draft(context: Context, stage: Stage, cut: Cut, unseen: tuple[Feature, ...]) -> Draft:
    names = ", ".join(f.id for f in unseen)
    undercut = next((f.undercut for f in unseen if f.undercut), None)
    why = f" ({undercut})" if undercut else ""
    return Draft(
        message=f"From the axis of {stage.setup.id} a straight tool cannot see {names}{why}.",
        features=tuple(f.id for f in unseen),
        at=unseen[0].placement.location,
        remedy=seen_from(context, stage, cut, unseen),
    )


def _use_of(context: Context, stage: Stage, axis: Vec3) -> tuple[int, int]:
    """How many of the setup's steps, and how many of the part's features, an axis sees: one setup is to serve many."""
    steps = sum(all(_allows(f, axis) for f in cut.features) for cut in stage.cuts)
    return steps, sum(_allows(f, axis) for f in context.part.features)


def seen_from(context: Context, stage: Stage, cut: Cut, unseen: tuple[Feature, ...]) -> Remedy:
    """Another setup of the plan, or another axis, that sees all of the features; else another tool."""
    for other in context.stages:
        if other is not stage and all(sees(context, other, cut, f) for f in unseen):
            return Remedy(
                text=f"Move the step to setup {other.setup.id}, whose axis sees it.",
                pointer=context.of_step(stage, cut),
            )
    common = [d for d in unseen[0].access if all(_allows(f, d) for f in unseen)]
    if common:
        axis = ", ".join(f"{c:g}" for c in max(common, key=lambda d: _use_of(context, stage, d)))
        return Remedy(
            text=f"Cut it in a setup whose axis is [{axis}].",
            pointer=context.of_setup(stage, "origin", "axis"),
        )
    return Remedy(
        text="No straight tool reaches it: use an undercutting tool, or change the part.",
        pointer=context.of_step(stage, cut, "tool"),
    )
