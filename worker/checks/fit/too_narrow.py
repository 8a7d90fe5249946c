"""fit.too-narrow: the cutter is wider than the slot, pocket or hole it should go into."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from schemas.tolerances import VOLUME_NOTHING
from worker.checks import remedies
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.fit._cones import too_blunt
from worker.checks.fit._heads import misfits, wider
from worker.checks.milling import along_a_vee, mills
from worker.checks.standing import lump_on, unfinished
from worker.kernel import measure
from worker.stage.model import Cut, Stage
from worker.stage.removal.undercuts import undercuts

CLOSED = frozenset({"closed_pocket", "slot"})
"""Classes whose width lies between two walls."""


@rule(
    "fit.too-narrow",
    scope="cut",
    metal="end",
    facets=True,
    why="A cutter wider than the opening cuts nothing in it.",
    reference="ISO 14649-10 width and diameter against ISO 13399 DC; geometry, no limit of choice",
    because_of=("access.hidden",),
)
def too_narrow(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """A cutter that does not go in is no fault where another step finishes the feature."""
    if along_a_vee(cut):
        drafts = (too_blunt(context, stage, cut, f) for f in cut.features if f.id in unfinished(context))
        yield from (draft for draft in drafts if draft is not None)
        return
    if not mills(cut):
        yield Skip("not a milling cutter")
        return
    for feature in cut.features:
        if feature.id not in unfinished(context):
            continue
        if undercuts(stage.frame, cut.tool, feature):
            yield from misfits(context, stage, cut, feature)
            continue
        width = opening(feature)
        if width is not None and wider(cut.tool.diameter, width):
            yield _draft(context, stage, cut, feature, width)
        elif width is None and len(cut.features) == 1 and _stays_out(stage, cut):
            yield _draft(context, stage, cut, feature, None)


def opening(feature: Feature) -> float | None:
    """The narrowest way in that the feature states, mm; None where it has no walls on both sides.

    Into a round bottom a ball of its radius sinks, whatever the width of the mouth.
    """
    if feature.class_ == "round_hole":
        return feature.diameter
    if feature.class_ not in CLOSED or feature.width is None:
        return None
    ball = feature.planar_radius if feature.bottom in ("spherical", "radiused") else None
    return max(feature.width, 2 * (ball or 0.0))


def _stays_out(stage: Stage, cut: Cut) -> bool:
    """The step takes nothing, although there is metal that a smaller tool would take."""
    number = next(i for i, other in enumerate(stage.cuts) if other is cut)
    return cut.removal_volume <= VOLUME_NOTHING < measure.volume(stage.left_by(number))


def _draft(context: Context, stage: Stage, cut: Cut, feature: Feature, width: float | None) -> Draft:
    size, room = context.units.texts(cut.tool.diameter, width or 0.0)
    wide = f", which is {room} wide" if width is not None else ""
    return Draft(
        message=f"Cutter {cut.tool.id}, ø {size}, does not go into {feature.id}{wide}.",
        features=(feature.id,),
        measured=cut.tool.diameter,
        limit=width,
        unit="mm",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=remedies.smaller_tool(context, stage, cut, width) if width is not None else None,
    )
