"""order.entry: a drill starts on a slope, a curved wall or an open edge without a spot or pilot."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, dot
from schemas.finding import Remedy
from schemas.plan import DRILLING
from schemas.tolerances import LENGTH, VOLUME_NOTHING
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.holes import Pass, is_round_axis, opens_axis, passes_in, passes_of
from worker.checks.metal import column_before, place_of, takes_near
from worker.checks.milling import travels
from worker.checks.order._contact import SLICE, column_at, share_met
from worker.stage.model import Cut, Stage

FULL = 0.97
"""Share of the drill's circle that must be in metal; the rest is room for a burr's chamfer at its rim."""

SPOTTING = ("center_drilling", "counter_sinking")
"""Operations whose cone a drill's point follows."""


@rule(
    "order.entry",
    scope="cut",
    metal="here",
    why="A drill that meets a slope or an edge runs off, and the hole is out of place; a thin one breaks.",
    reference="common practice: spot, pilot or mill a flat first",
    limits=(
        Limit(
            "entry_slope",
            1.0,
            "deg",
            "makers' advice for drills without a pilot is square to 1 or 2 degrees (from memory)",
        ),
    ),
    because_of=("order.sequence",),
)
def entry(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """The metal under the drill's circle, a little below the first contact, must fill the circle."""
    if cut.step.operation not in DRILLING:
        yield Skip("the step does not drill")
        return
    number = place_of(stage, cut)
    for one in passes_of(context, stage, cut):
        openers = {guide: _opener(context, one, guide) for guide in _guides(context, one)}
        guides = [guide for guide, opener in openers.items() if opener is None]
        if one.plunge is None or any(_from_one_side(one, guide) for guide in guides):
            continue
        share, place = share_met(context, stage, number, one.plunge, context.limit("entry_slope"))
        if share < FULL and not any(_comes_out_at(one, guide, place) for guide in guides):
            yield _draft(context, one, share, place, next((o for o in openers.values() if o is not None), None))


def _guides(context: Context, one: Pass) -> Iterator[Pass]:
    """Spots, pilots, countersinks or flats that earlier steps cut on the same axis."""
    family = context.family(one.hole.id)
    place = context.position(one.cut)
    for guide in passes_in(context, family):
        takes = guide.cut.removal_volume > VOLUME_NOTHING and (guide.plunge is None or opens_axis(guide))
        if takes and context.position(guide.cut) < place:
            yield guide


def _opener(context: Context, one: Pass, guide: Pass) -> Cut | None:
    """The cutter that has since taken a spot away, or opened it as far as its axis: a drill runs off to that side."""
    spot, stage = guide.plunge, one.stage
    if spot is None or guide.cut.step.operation not in SPOTTING or guide.stage is not stage:
        return None
    number = place_of(stage, one.cut)
    around = column_at(stage, spot.centre, one.diameter, spot.tip_z - SLICE, spot.tip_z)
    since = range(place_of(stage, guide.cut) + 1, number)
    near = [stage.cuts[i] for i in since if travels(stage.cuts[i]) and takes_near(context, stage, i, around)]
    if not near or is_round_axis(stage, column_before(context, stage, number, around), spot.centre):
        return None
    return near[0]


def _from_one_side(one: Pass, guide: Pass) -> bool:
    return dot(one.stage.frame.z, guide.stage.frame.z) > 0


def _comes_out_at(one: Pass, guide: Pass, entry: Vec3) -> bool:
    """A guide from the other side that has come through to where the drill starts: one that stops short guides none."""
    if guide.plunge is None:
        return False
    x, y, _ = guide.stage.frame.to_local(guide.at)
    tip = one.stage.frame.to_local(guide.stage.frame.to_world((x, y, guide.plunge.tip_z)))
    return tip[2] >= one.stage.frame.to_local(entry)[2] - LENGTH


def _draft(context: Context, one: Pass, share: float, place: Vec3, opener: Cut | None) -> Draft:
    gone = f"step {opener.step.id} has opened the spot that guided it" if opener else "nothing guides it"
    mend = "Spot the hole, drill a pilot or mill a flat before this step."
    return Draft(
        message=f"Drill {one.cut.tool.id} starts {one.hole.id} on a slope, a curved wall or an open edge: just below "
        f"the first contact {100 * share:.0f} % of its circle is in metal, and {gone}.",
        features=(one.hole.id,),
        measured=round(100 * share, 1),
        limit=100 * FULL,
        unit="%",
        at=place,
        remedy=Remedy(
            text=f"Drill before step {opener.step.id} cuts here." if opener else mend,
            pointer=context.of_step(one.stage, one.cut),
        ),
    )
