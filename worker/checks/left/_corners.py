"""Where the edges of three chamfers meet, the flanks that cut them leave a point of metal on the facet between them."""

from __future__ import annotations

from collections.abc import Iterable

from schemas.feature import Feature
from schemas.finding import Remedy
from worker.checks.api import Context, Draft
from worker.kernel import measure
from worker.residual import Lump


def is_corner(feature: Feature) -> bool:
    """A chamfer that runs along no edge: free-form ones round a mouth have a width, if no length."""
    return feature.class_ == "chamfer" and feature.length is feature.width is feature.diameter is None


def is_point(context: Context, lump: Lump) -> bool:
    """Whether a lump stands on such facets alone, that no step names, and is small enough to be filed off."""
    named = {f.id for _, cut in context.sequence for f in cut.features}
    return (
        bool(lump.features)
        and lump.thickness <= context.limit("most_at_a_corner")
        and all(is_corner(context.part.feature(id)) and id not in named for id in lump.features)
    )


def points_draft(context: Context, lumps: Iterable[Lump]) -> Draft:
    """One finding for all of them: a warning, as no setup is worth it."""
    found = list(lumps)
    features = tuple(dict.fromkeys(id for lump in found for id in lump.features))
    thick = max(lump.thickness for lump in found)
    where = "a corner" if len(found) == 1 else f"{len(found)} corners"
    return Draft(
        message=f"Where chamfers meet, in {where}, their cutters leave metal, {context.text(thick)} thick on average.",
        features=features,
        measured=thick,
        unit="mm",
        at=measure.place_in(found[0].body),
        level="warning",
        remedy=Remedy(text="File the corners when the part is deburred, or name them in a step that follows them."),
    )
