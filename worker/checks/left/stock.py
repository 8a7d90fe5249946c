"""left.stock: metal is left on the part after the last setup."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.access.hidden import seen_from, unseen_by
from worker.checks.api import Context, Draft, Limit, rule
from worker.checks.depth.short import stopping_short
from worker.checks.holes import makes_cylinder, passes_of
from worker.checks.left._corners import is_point, points_draft
from worker.checks.left._disabled import switched_off
from worker.checks.left._flank import other_flank
from worker.checks.left._kept_off import kept_off, way_clear
from worker.checks.left._planned import beyond, explaining, last_step_on, setup_for, uncut
from worker.checks.left._slope import steps_on_slope
from worker.checks.milling import travels
from worker.checks.standing import left_lumps
from worker.checks.standing_cause import cause_of
from worker.kernel import measure
from worker.residual import Lump
from worker.stage.model import Cut, Stage

LAYERED = 0.15
"""Share by which the outside of a layer may differ from twice the area that it covers."""


@rule(
    "left.stock",
    scope="plan",
    metal="end",
    facets=True,
    why="The part is not the drawing's: it needs another run, or the customer sends it back.",
    reference="geometry: last to_be less the part; films, threads and drill points are left to their own rules",
    limits=(
        Limit("most_at_a_corner", 0.5, "mm", "common practice: broken by hand where three chamfers meet (from memory)"),
    ),
)
def left_stock(context: Context) -> Iterator[Draft]:
    """Lumps that stand on the same features are told together; all that chamfers leave in corners as a warning."""
    groups: dict[tuple[str, ...], list[Lump]] = {}
    points = [lump for lump in left_lumps(context) if is_point(context, lump)]
    if points:
        yield points_draft(context, points)
    for lump in (lump for lump in left_lumps(context) if lump not in points):
        groups.setdefault(explaining(context, lump.faces), []).append(lump)
    for features, lumps in groups.items():
        yield _draft(context, features, lumps)


def _draft(context: Context, features: tuple[str, ...], lumps: list[Lump]) -> Draft:
    volume = sum(x.volume for x in lumps)
    count = "" if len(lumps) == 1 else f" in {len(lumps)} places"
    held = kept_off(context, lumps)
    last = (held.stage, held.cut) if held else cause_of(context, lumps[0])
    forgotten = () if held else beyond(context, features, last[1]) if last else uncut(context, features)
    last = None if forgotten else last or last_step_on(context, features[:1]) or last_step_on(context, features)
    where = f" on {', '.join(features)}" if features else ", not even touching the part"
    why = f": {held.body.name} keeps {held.cut.tool.id} off" if held else ""
    return Draft(
        message=f"{context.units.volume_text(volume)} of metal is left{where}{count}, {_size(context, lumps[0])}{why}.",
        features=features,
        measured=volume,
        limit=0.0,
        unit="mm3",
        at=measure.place_in(lumps[0].body),
        remedy=way_clear(context, held) if held else _remedy(context, forgotten or features, last, lumps),
        stage=last[0] if last else None,
        cut=last[1] if last else None,
    )


def _size(context: Context, lump: Lump) -> str:
    """How thick a layer is, as an allowance leaves it: its outside is twice the area that it covers; else how large
    a lump is along the part's axes."""
    covers = lump.volume / lump.thickness
    if covers > 0 and abs(measure.area(lump.body) - 2 * covers) < LAYERED * 2 * covers:
        return f"{context.text(lump.thickness)} thick on average"
    sizes = [context.units.number(b - a) for a, b in zip(lump.box.min, lump.box.max, strict=True)]
    return f"{' x '.join(sizes)} {context.units.symbol} large"


def _remedy(context: Context, features: tuple[str, ...], last: tuple[Stage, Cut] | None, lumps: list[Lump]) -> Remedy:
    """The step that is switched off; no allowance, where the last step on it leaves one; a cutter of the flank's angle;
    an axis square to a floor that slopes; else a step that takes it."""
    off = switched_off(context, features)
    if off is not None:
        return off
    if last is None:
        return setup_for(context, features, "step that takes it")
    stage, cut = last
    left = [name for name in ("allowance_side", "allowance_bottom") if getattr(cut.step, name) > 0]
    if left:
        pointer = context.of_step(stage, cut, left[0])
        text = f"Set {' and '.join(left)} of step {cut.step.id} to 0, or finish after it."
        return Remedy(text=text, pointer=pointer, value=0.0, unit="mm")
    mine = tuple(f for f in cut.features if f.id in features)
    unseen = unseen_by(context, stage, cut)
    if mine and set(mine) <= set(unseen):
        return seen_from(context, stage, cut, mine)
    flank = other_flank(context, stage, cut, lumps)
    if flank is not None:
        return flank
    slope = steps_on_slope(context, stage, cut, lumps)
    if slope is not None:
        return slope
    for one in passes_of(context, stage, cut) if makes_cylinder(cut) else ():
        for draft in stopping_short(context, one) if one.hole.id in features else ():
            if draft.remedy:
                return draft.remedy
    low = _below(stage, cut, lumps)
    if low is not None:
        text = f"Let step {cut.step.id} of {stage.setup.id} go down to {context.text(low)}, or add one that does."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "bottom_z"), value=low, unit="mm")
    here = f"step {cut.step.id} of {stage.setup.id}"
    text = f"Let {here} take it, or add one that does."
    if cut.step.operation == "chamfering" and any(f.class_ == "region" for f in mine):
        text = "State freeform_operation with a ballnose_endmill: no flank lies on a face that bends both ways."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "operation"))
    if mine:
        text = f"Give {here}, which works there and leaves it, a cutter that gets there, or add a step that takes it."
    return Remedy(text=text, pointer=context.of_step(stage, cut))


def _below(stage: Stage, cut: Cut, lumps: list[Lump]) -> float | None:
    """The foot of lumps that all stand below the step's tip (setup's frame, mm); None where some do not."""
    boxes = [measure.bounding_box(lump.body, stage.frame) for lump in lumps]
    under = travels(cut) and all(box.max[2] <= cut.tip_z + LENGTH for box in boxes)
    return min(box.min[2] for box in boxes) if under else None
