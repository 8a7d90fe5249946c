"""cut.workholding: cutter, neck or shank enter a jaw, clamp or other body of the workholding."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.workholding import Vise
from worker.checks import remedies
from worker.checks.api import Context, Draft, rule
from worker.checks.cut._assembly import assembly_drafts
from worker.checks.cut._holding import Hit, hits
from worker.checks.cut._shut_out import shut_out
from worker.checks.hold._contacts import vise_of
from worker.kernel import measure
from worker.stage.model import Cut, Stage


@rule(
    "cut.workholding",
    scope="cut",
    metal="here",
    facets=True,
    why="The cutter breaks, the vise is scarred, and the part moves.",
    reference="geometry: the tool's sweep, and the room it needs round the stock, against the workholding's solids, "
    "placed on the as-is stock",
)
def workholding(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """One finding a body; what comes out below the stock is depth.breakout, the holder is reach.stickout's."""
    yield from shut_out(context, stage, cut)
    yield from assembly_drafts(context, stage, cut, [hit.body.name for hit in hits(context, stage, cut)])
    for hit in hits(context, stage, cut):
        if not hit.below:
            yield Draft(
                message=f"{cut.tool.id} cuts {context.text(hit.depth)} deep into {hit.body.name}.",
                features=tuple(f.id for f in cut.features),
                measured=hit.depth,
                limit=0.0,
                unit="mm",
                at=hit.at,
                remedy=_remedy(context, stage, cut, hit),
            )


def _remedy(context: Context, stage: Stage, cut: Cut, hit: Hit) -> Remedy:
    stated = cut.step.bottom_z is not None or cut.step.cutting_depth is not None
    stated |= cut.step.overcut_length >= max(hit.depth - LENGTH, LENGTH)  # less of it does not clear the body
    vise = vise_of(stage)
    lower = _lower_jaws(context, stage, vise, hit) if vise is not None and hit.body.role.startswith("jaw") else None
    if lower is not None:
        return lower
    if stated and _clears_higher(stage, cut, hit):
        return remedies.deeper(context, stage, cut, -hit.depth)
    text = f"Move {hit.body.name} out of the cut, or cut this feature in another setup."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding"))


def _lower_jaws(context: Context, stage: Stage, vise: Vise, hit: Hit) -> Remedy | None:
    """Jaws whose top clears the cut, soft ones by a shallower nest; None where they would grip too little."""
    soft = vise.nest_depth is not None
    key, stated = ("nest_depth", vise.nest_depth or 0.0) if soft else ("jaw_height", vise.jaw_height)
    lowered = stated - hit.depth
    if lowered - (0.0 if soft else vise.parallel_height) < context.limit("least_grip_depth"):
        return None
    text = f"Set {key} to {context.text(lowered)}, or cut {context.text(hit.depth)} less deep."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding", key), value=lowered, unit="mm")


def _clears_higher(stage: Stage, cut: Cut, hit: Hit) -> bool:
    """A tip at the body's top clears it, if it is met at the tip, and the feature's bottom is reached all the same."""
    top = measure.bounding_box(hit.body.body, stage.frame).max[2]
    met_at_the_tip = hit.box.min[2] <= cut.tip_z + LENGTH and top <= hit.box.max[2] + LENGTH
    return met_at_the_tip and (bool(cut.plunges) or hit.box.max[2] <= cut.bottom_z_nominal + LENGTH)
