"""depth.short: a step stops above the feature's bottom, or a through hole's full diameter does not come out."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3
from schemas.feature import Feature
from schemas.plan import DRILLING
from schemas.tolerances import LENGTH
from worker.checks import remedies
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.depth._followed import deeper_than_stated, lowest_on
from worker.checks.heights import bottom_of, milled_to
from worker.checks.holes import Pass, makes_cylinder, passes_in, passes_of, sentence, tap_of, tool_word, under_thread
from worker.checks.milling import along_a_vee, is_last_on, travels
from worker.checks.standing import unfinished
from worker.stage.model import Cut, Stage


@rule(
    "depth.short",
    scope="cut",
    metal="end",
    facets=True,
    why="A through hole that only the point has left is no through hole; a shallow pocket is scrap or a second run.",
    reference="ISO 14649-10 depth; ISO 14649-11 cutting_depth; ISO 13399 PL: the full diameter ends PL above the tip",
    because_of=("access.hidden", "fit.too-narrow", "fit.hole-diameter"),
)
def short(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Sound when a later step goes down, or when nothing is left in the feature at the end."""
    followed = list(deeper_than_stated(context, stage, cut))
    if followed:
        yield from followed
        return
    if makes_cylinder(cut) and cut.plunges:
        for one in passes_of(context, stage, cut):
            yield from stopping_short(context, one)
    elif travels(cut):
        for feature in cut.features:
            yield from _milled(context, stage, cut, feature)
    else:
        yield Skip("the step has no bottom of its own to reach")


def stopping_short(context: Context, one: Pass) -> Iterator[Draft]:
    """What is told of a tool on a hole's axis that leaves metal at the bottom; nothing where it goes down to it."""
    if one.plunge is None:
        return
    bottom = bottom_of(one.stage, one.hole)
    flat = one.hole.bottom not in ("through", "conical", None)
    reached = one.plunge.tip_z if flat else one.plunge.full_diameter_z
    guided = _guided_to(context, one)
    needed = bottom if guided is None else max(guided, bottom)
    if reached > needed + LENGTH and (guided is not None or _unmended(context, one)):
        yield _draft(context, one.stage, one.cut, one.hole, reached - needed, one.at)


def _guided_to(context: Context, one: Pass) -> float | None:
    """The lowest tip of the reamers and boring tools that follow the last drill: they do not cut into the full."""
    if one.cut.step.operation not in DRILLING or not _last_drill(context, one):
        return None
    after = [p for p in passes_in(context, (one.hole.id,)) if p.stage is one.stage]
    tips = [p.plunge.tip_z for p in after if p.plunge and p.cut.step.operation in ("reaming", "boring")]
    return min(tips, default=None)


def _last_drill(context: Context, one: Pass) -> bool:
    drills = [p for p in passes_in(context, (one.hole.id,)) if p.cut.step.operation in DRILLING]
    return drills[-1].cut is one.cut


def _unmended(context: Context, one: Pass) -> bool:
    """Metal is left in the hole at the end, and no later step works on it."""
    tap = tap_of(context, one.hole)
    steps = under_thread(context, tap) if tap else passes_in(context, (one.hole.id,))
    makers = [p for p in steps if makes_cylinder(p.cut)]
    return bool(context.family(one.hole.id) & unfinished(context)) and bool(makers) and makers[-1].cut is one.cut


def _milled(context: Context, stage: Stage, cut: Cut, feature: Feature) -> Iterator[Draft]:
    if feature.id not in unfinished(context) or not (along_a_vee(cut) or is_last_on(context, cut, feature.id)):
        return
    missing = milled_to(stage, cut, feature) - lowest_on(stage, cut, feature) - max(cut.step.allowance_bottom, 0.0)
    stated = cut.step.bottom_z is not None or cut.step.cutting_depth is not None
    if stated and missing > LENGTH:
        x, y, _ = stage.frame.to_local(feature.placement.location)
        place = stage.frame.to_world((x, y, bottom_of(stage, feature)))
        yield _draft(context, stage, cut, feature, missing, place)


def _draft(context: Context, stage: Stage, cut: Cut, feature: Feature, missing: float, at: Vec3) -> Draft:
    tool = sentence(("the full diameter of " if cut.plunges else "") + tool_word(cut))
    end = "coming out" if feature.bottom == "through" else "the bottom"
    return Draft(
        message=f"{tool} stops {context.text(missing)} short of {end} of {feature.id}.",
        features=(feature.id,),
        measured=missing,
        limit=0.0,
        unit="mm",
        at=at,
        remedy=remedies.deeper(context, stage, cut, missing),
    )
