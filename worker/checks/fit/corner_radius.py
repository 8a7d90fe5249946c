"""fit.corner-radius: an internal corner is tighter than the cutter, and no step takes the metal out of it."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks import remedies
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.left._planned import explaining
from worker.checks.milling import finishes, from_aside, is_last_on, mills, mills_on
from worker.checks.standing import lump_on, unfinished
from worker.checks.standing_cause import spared_by, tightest_corner
from worker.kernel import measure
from worker.stage.model import Cut, Stage


@rule(
    "fit.corner-radius",
    scope="cut",
    metal="end",
    facets=True,
    why="A round cutter leaves its own radius in an inner corner; where the drawing asks for less, metal stays.",
    reference="ISO 14649-10 orthogonal_radius against DC / 2; geometry, no limit of choice",
    because_of=("fit.too-narrow", "fit.floor-radius", "access.hidden"),
)
def corner_radius(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Roughing with a large cutter is sound when any later step takes the corners."""
    if not mills(cut) or not finishes(cut):
        yield Skip("not a finishing step of a milling cutter")
        return
    found = False
    for feature in cut.features:
        radius = None if from_aside(stage, cut, feature) else feature.orthogonal_radius
        if radius is None or feature.id not in unfinished(context) or not is_last_on(context, cut, feature.id):
            continue
        smallest = min(other.tool.radius for _, other in mills_on(context, feature.id) if finishes(other))
        if smallest > radius + LENGTH:
            found = True
            place = lump_on(context, feature.id) or feature.placement.location
            yield _draft(context, stage, cut, (feature.id,), radius, place)
    if not found:
        yield from _beside(context, stage, cut)


def _beside(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """Corners that belong to other features than the step names: a profile round a recess."""
    for lump in spared_by(context, cut):
        radius = tightest_corner(context, stage, lump)
        if radius is not None and cut.tool.radius > radius + LENGTH:
            names = explaining(context, lump.faces)
            yield _draft(context, stage, cut, names, radius, measure.place_in(lump.body))


def _draft(context: Context, stage: Stage, cut: Cut, features: tuple[str, ...], radius: float, at: Vec3) -> Draft:
    own, corner = context.units.texts(cut.tool.radius, radius)
    return Draft(
        message=f"Cutter {cut.tool.id} has a radius of {own}; the tightest inner corner of "
        f"{', '.join(features)} has {corner}: metal stays in the corners.",
        features=features,
        measured=cut.tool.radius,
        limit=radius,
        unit="mm",
        at=at,
        remedy=_remedy(context, stage, cut, radius),
    )


def _remedy(context: Context, stage: Stage, cut: Cut, radius: float) -> Remedy:
    if radius <= LENGTH:
        return Remedy(
            text="No turning cutter makes a sharp inner corner: relieve the corner on the drawing, or cut it from a "
            "direction in which it is an edge.",
            pointer=context.of_step(stage, cut, "tool"),
        )
    return remedies.smaller_tool(context, stage, cut, 2 * radius)
