"""Pairs of steps in the wrong order, as rules and cut.nothing read them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from schemas.base import Vec3
from schemas.plan import DRILLING
from schemas.tolerances import VOLUME_NOTHING
from worker.checks.api import Context
from worker.checks.heights import bottom_of, top_of
from worker.checks.holes import Pass, all_passes, makes_cylinder, passes_in
from worker.checks.metal import place_of, stands_at
from worker.checks.order._roughing import rough_late
from worker.checks.order._undercuts import unopened
from worker.stage.model import Cut, Stage


@dataclass(frozen=True)
class OrderFault:
    """``early`` comes before ``late``, which it needs; ``late`` is None when no step of the plan does it."""

    early: tuple[Stage, Cut]
    late: tuple[Stage, Cut] | None
    features: tuple[str, ...]
    words: str
    at: Vec3


GUIDED = frozenset({"tapping", "reaming", "boring", "back_boring"})
"""Operations that need a hole to go into."""
THIRD, NEAR_THE_FOOT = 1 / 3, 0.9
"""Shares of a hole's depth: one that a step has begun is looked at where it starts, one that none has at its foot,
which no spot reaches."""


def order_faults(context: Context) -> tuple[OrderFault, ...]:
    """All of them but the chamfers', in the order of machining."""
    finders = (_without_hole, _spot_late, _roughed, _unopened)
    return context.once("order.faults", lambda: tuple(fault for find in finders for fault in find(context)))


def late_steps(context: Context) -> tuple[Cut, ...]:
    """The steps that come too late: that they find no metal is no news."""
    return tuple(f.late[1] for f in order_faults(context) if f.late is not None)


def _without_hole(context: Context) -> Iterator[OrderFault]:
    for one in all_passes(context):
        if one.cut.step.operation not in GUIDED or not one.plunge:
            continue
        place = context.position(one.cut)
        makers = [p for p in passes_in(context, context.family(one.hole.id)) if makes_cylinder(p.cut)]
        begun = any(context.position(p.cut) < place for p in makers)
        if not _is_solid(context, one, THIRD if begun else NEAR_THE_FOOT):
            continue
        late = next((p for p in makers if context.position(p.cut) > place), None)
        words = f"finds no hole in {one.hole.id}"
        yield _fault(one, late, words)


def _is_solid(context: Context, one: Pass, share: float) -> bool:
    """Metal on the hole's axis, some share of the way down, before the step."""
    top, bottom = top_of(one.stage, one.hole), bottom_of(one.stage, one.hole)
    x, y, _ = one.stage.frame.to_local(one.hole.placement.location)
    point = one.stage.frame.to_world((x, y, top - share * (top - bottom)))
    return stands_at(context, one.stage, place_of(one.stage, one.cut), point)


def _spot_late(context: Context) -> Iterator[OrderFault]:
    for spot in all_passes(context):
        if spot.cut.step.operation != "center_drilling" or spot.cut.removal_volume > VOLUME_NOTHING:
            continue
        family = context.family(spot.hole.id)
        place = context.position(spot.cut)
        earlier = [p for p in passes_in(context, family) if context.position(p.cut) < place]
        drilled = [p for p in earlier if p.cut.step.operation in DRILLING]
        if drilled:
            yield _fault(drilled[0], spot, f"drills {drilled[0].hole.id}")


def _fault(early: Pass, late: Pass | None, words: str) -> OrderFault:
    partner = (late.stage, late.cut) if late else None
    return OrderFault((early.stage, early.cut), partner, (early.hole.id,), words, early.at)


def _roughed(context: Context) -> Iterator[OrderFault]:
    for stage, early, late, feature in rough_late(context):
        place = feature.placement.location
        yield OrderFault((stage, early), (stage, late), (feature.id,), f"finishes {feature.id}", place)


def _unopened(context: Context) -> Iterator[OrderFault]:
    for stage, early, late, at in unopened(context):
        names = tuple(f.id for f in early.features)
        words = f"finds stock over {', '.join(names)}, where neck or shank of {early.tool.id} must pass"
        yield OrderFault((stage, early), late, names, words, at)
