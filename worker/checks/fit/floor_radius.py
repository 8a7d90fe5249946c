"""fit.floor-radius: the cutter's corner radius RE does not make the edge between walls and floor."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.tool import Tool
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.fit._ends import FLAT
from worker.checks.holes import Pass, elements, passes_of
from worker.checks.milling import BOTTOM, finishes, from_aside, is_last_on, mills, mills_on
from worker.checks.standing import lump_on, unfinished
from worker.stage.model import Cut, Stage

ROUND = frozenset({"radiused", "spherical"})
"""Bottoms without a level floor, which the flat of a cutter bridges."""
WALLED = frozenset({"closed_pocket", "open_pocket", "slot", "step", "round_hole", "region"})
ENDMILLS = frozenset({"endmill", "bullnose_endmill", "ballnose_endmill"})


@rule(
    "fit.floor-radius",
    scope="cut",
    metal="end",
    facets=True,
    why="Too large a corner radius leaves a fillet in a sharp floor corner; a square cutter leaves steps in a fillet.",
    reference="ISO 14649-10 planar_radius against ISO 13399 RE; geometry, no limit of choice",
    because_of=("fit.too-narrow", "access.hidden"),
)
def floor_radius(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """A fillet is made by a cutter with 0 < RE <= its radius, a sharp corner by RE 0, by any step on the feature.

    Between two fillets the flat between the cutter's corners must be no wider than the floor.
    A tool that is plunged and as wide as the hole must have the fillet's own radius.
    """
    if cut.plunges:
        yield from _plunged(context, stage, cut)
        return
    if not mills(cut) or cut.step.operation not in BOTTOM | {"counter_sinking"} or not finishes(cut):
        yield Skip("not a finishing step of a milling cutter on a floor")
        return
    for feature in (e for f in cut.features for e in elements(context, f)):
        if feature.class_ not in WALLED or feature.bottom == "through" or feature.id not in unfinished(context):
            continue
        if feature.class_ == "region" and feature.planar_radius is None:  # a form without a floor
            continue
        if not is_last_on(context, cut, feature.id) or from_aside(stage, cut, feature):
            continue
        radius = feature.planar_radius or 0.0
        if not any(_makes(other.tool, feature) for _, other in mills_on(context, feature.id) if finishes(other)):
            yield _draft(context, stage, cut, feature, radius)


def _plunged(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    ends = [p for p in passes_of(context, stage, cut) if stands_on_a_rounded_floor(p)]
    if not ends:
        yield Skip("the step plunges no flat-ended tool on to a floor with a fillet")
    for one in ends:
        radius, corner = one.hole.planar_radius or 0.0, cut.tool.corner_radius
        mended = corner > radius and (
            one.hole.id not in unfinished(context)
            or any(finishes(other) and fits(other.tool, radius) for _, other in mills_on(context, one.hole.id))
        )
        if abs(corner - radius) > LENGTH and not mended:
            yield _draft(context, stage, cut, one.hole, radius)


def stands_on_a_rounded_floor(one: Pass) -> bool:
    """True when a flat-ended tool comes down to a floor and its edge lies over the fillet round that, or its round
    corner in a sharp one.

    One with a smaller corner whose edge lies within the flat touches no fillet; a drill's point is fit.bottom's.
    """
    hole, tool, plunge = one.hole, one.cut.tool, one.plunge
    radius, round_edge = hole.planar_radius or 0.0, tool.corner_radius > LENGTH
    floors = ("flat_with_radius", "flat") if round_edge else ("flat_with_radius",)
    if plunge is None or hole.bottom not in floors or tool.type not in FLAT:
        return False
    level = one.stage.frame.to_local(hole.placement.to_world((0.0, 0.0, -(hole.depth or 0.0))))[2]
    over = tool.radius - ((hole.diameter or 0.0) / 2 - radius)
    return plunge.tip_z <= level + LENGTH and over > (LENGTH if radius > LENGTH else -LENGTH)


def fits(tool: Tool, radius: float) -> bool:
    """Whether the tool's corner can make a floor corner of that radius (0: sharp), mm."""
    corner = tool.corner_radius
    return corner <= LENGTH if radius <= LENGTH else LENGTH < corner <= radius + LENGTH


def _makes(tool: Tool, feature: Feature) -> bool:
    """Whether the tool makes the edge of the floor; of a bottom that is round throughout: without a flat of its own."""
    flat = tool.radius - tool.corner_radius > LENGTH
    if feature.bottom in ROUND and not feature.planar_radius:  # of no one radius
        return not flat
    return (
        fits(tool, feature.planar_radius or 0.0)
        and not (flat and feature.bottom in ROUND)
        and not _crowds(tool, feature)
    )


def _crowds(tool: Tool, feature: Feature) -> bool:
    """Whether the flat between the tool's corners is wider than the floor between two fillets."""
    radius, width = feature.planar_radius or 0.0, feature.width or feature.diameter
    if radius <= LENGTH or width is None or feature.class_ == "step":
        return False
    return 2 * (tool.radius - tool.corner_radius) > width - 2 * radius + LENGTH


def _draft(context: Context, stage: Stage, cut: Cut, feature: Feature, radius: float) -> Draft:
    corner = cut.tool.corner_radius
    wanted = f"a fillet of {context.text(radius)} at its floor" if radius > LENGTH else "a sharp corner at its floor"
    if feature.bottom in ROUND:
        wanted = f"a round bottom of {context.text(radius)}" if radius > LENGTH else "a round bottom"
    then = "it is cut away" if cut.plunges and corner < radius else "metal stays there"
    bridge = ", and a flat between" if feature.bottom in ROUND and corner > LENGTH else ""
    if not bridge and fits(cut.tool, radius) and _crowds(cut.tool, feature):
        bridge = (
            f", and a flat of {context.text(cut.tool.diameter - 2 * corner)} between that the floor has no room for"
        )
    return Draft(
        message=f"Cutter {cut.tool.id} has a corner radius of {context.text(corner)}{bridge}; "
        f"{feature.id} has {wanted}: {then}.",
        features=(feature.id,),
        measured=corner,
        limit=radius,
        unit="mm",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=_remedy(context, stage, cut, feature, radius),
    )


def _remedy(context: Context, stage: Stage, cut: Cut, feature: Feature, radius: float) -> Remedy:
    """The largest tool of the plan that makes the floor's edge and gets into the corners, else the corner radius. From
    here a square cutter leaves steps on a floor that slopes, so where a ball follows one none is named."""
    if feature.id in cut.followed and radius <= LENGTH:
        text = "Leave it a fillet of the ball's radius, or cut the corner square to the floor, in a setup of its own."
        return Remedy(text=text, pointer="/setups")
    fitting = [t for t in context.plan.tools if _would_do(t, cut, feature, radius)]
    if fitting:
        best = max(fitting, key=lambda t: (t.diameter, t.id))
        pointer = context.of_step(stage, cut, "tool")
        return Remedy(text=f"Finish with tool {best.id}.", pointer=pointer, value=best.id)
    if feature.bottom in ROUND:
        most = f" with a radius of {context.text(radius)} at most" if radius > LENGTH else ""
        text = f"Use a ball-nose cutter{most}."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "tool"))
    if radius <= LENGTH:
        return Remedy(text="Use a cutter without a corner radius.", pointer=context.of_step(stage, cut, "tool"))
    return Remedy(
        text=f"Use a cutter with a corner radius of {context.text(radius)}.",
        pointer=context.of_tool(cut.tool, "RE"),
        value=radius,
        unit="mm",
    )


def _would_do(tool: Tool, cut: Cut, feature: Feature, radius: float) -> bool:
    if cut.plunges:
        alike = tool.type == cut.tool.type and abs(tool.diameter - cut.tool.diameter) <= LENGTH
        return alike and abs(tool.corner_radius - radius) <= LENGTH
    return tool.type in ENDMILLS and _makes(tool, feature) and _goes_in(tool, feature)


def _goes_in(tool: Tool, feature: Feature) -> bool:
    """No larger than the tightest corner and the width."""
    corner, width = feature.orthogonal_radius, feature.width or feature.diameter
    return (corner is None or tool.radius <= corner + LENGTH) and (width is None or tool.diameter <= width + LENGTH)
