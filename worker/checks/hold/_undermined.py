"""Stock that a step leaves without anything under it: what it stood on stood under metal that the step takes."""

from __future__ import annotations

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, support_patches, total
from worker.checks.hold._loads import flat
from worker.checks.hold._support import hull, outside
from worker.kernel import measure
from worker.kernel.contact import Patch, patches
from worker.kernel.shape import Body, is_empty
from worker.stage.model import SUPPORTING, Cut, Stage

NOTHING = 1e-3
"""Area (mm2) that carries nothing."""


def undermined(context: Context, stage: Stage) -> Draft | None:
    """A fixture that carries the as-is stock, but not what is left of it, or not under its centre of mass. The jaws of
    a vise hold by friction, and given bodies may hold from the side."""
    if stage.holding.kind != "fixture_plate" or is_empty(stage.to_be) or not support_patches(context, stage):
        return None
    if all(is_empty(cut.removal) for cut in stage.cuts):
        return None
    left = _below(stage, stage.to_be)
    if total(left) <= NOTHING:
        return _nothing_below(context, stage, _first_without(stage))
    over = _overhang(stage, stage.to_be, left)
    was = _overhang(stage, stage.as_is, support_patches(context, stage))
    if over > LENGTH >= was:
        return _tips(context, stage, over)
    return None


def _below(stage: Stage, body: Body) -> tuple[Patch, ...]:
    """The flats, facing down, on which a stock stands."""
    held = stage.holding.of(*sorted(SUPPORTING))
    found = (p for one in held for p in patches(body, one.body, TOUCH))
    return tuple(p for p in found if dot(p.normal, stage.frame.z) <= -1 + SQUARE)


def _overhang(stage: Stage, body: Body, below: tuple[Patch, ...]) -> float:
    outline = hull([flat(stage, p) for patch in below for p in patch.points])
    return outside(outline, flat(stage, measure.centroid(body)))


def _first_without(stage: Stage) -> Cut | None:
    """The first step after which nothing carries the stock."""
    for number, cut in enumerate(stage.cuts):
        if not is_empty(cut.removal) and total(_below(stage, stage.stock_before(number + 1))) <= NOTHING:
            return cut
    return None


def _nothing_below(context: Context, stage: Stage, cut: Cut | None) -> Draft:
    name = f"step {cut.step.id}" if cut else "the setup"
    return Draft(
        message=f"What is left of the stock after {name} stands on nothing.",
        features=tuple(f.id for f in cut.features) if cut else (),
        measured=0.0,
        unit="mm2",
        at=measure.centroid(stage.to_be),
        remedy=_remedy(context, stage),
        cut=cut,
    )


def _tips(context: Context, stage: Stage, over: float) -> Draft:
    return Draft(
        message=f"After the setup's cuts the centre of mass lies {context.text(over)} outside what the rest stands on.",
        measured=over,
        limit=0.0,
        unit="mm",
        at=measure.centroid(stage.to_be),
        remedy=_remedy(context, stage),
        level="warning",
    )


def _remedy(context: Context, stage: Stage) -> Remedy:
    text = "Put a jack or plate under what stays."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding", "elements"))
