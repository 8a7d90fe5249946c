"""cut.nothing: the step finds no metal to cut."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import ANGLE, LENGTH, VOLUME_NOTHING
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.cut._held_up import height_of_metal, sunk_at
from worker.checks.heights import first_place
from worker.checks.holes import Pass, opens_axis, passes_in, passes_of
from worker.checks.milling import along_a_vee
from worker.checks.order._faults import late_steps
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage
from worker.stage.removal.vees import way_into

ALONG = math.cos(math.radians(ANGLE))


@rule(
    "cut.nothing",
    scope="cut",
    metal="here",
    facets=True,
    why="A step in the air costs time, and often means a wrong feature, setup or order.",
    reference="geometry: the step's removal from the stock as it finds it",
    because_of=("fit.too-narrow", "fit.floor-radius", "access.hidden", "access.covered", "order.sequence"),
)
def nothing(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Taps and broken edges remove nothing by definition; a step that comes too late is order.sequence's."""
    if cut.step.operation in ("tapping", "edge_breaking"):
        yield Skip("the operation removes nothing beyond the model")
        return
    held = next(_held_up(context, stage, cut), None)
    if any(cut is late for late in late_steps(context)):
        return
    if held is not None:
        yield held
    elif cut.removal_volume <= VOLUME_NOTHING:
        yield _draft(context, stage, cut)


def _draft(context: Context, stage: Stage, cut: Cut) -> Draft:
    return Draft(
        message=f"Step {cut.step.id} finds no metal to cut{_because(context, stage, cut)}.",
        features=tuple(f.id for f in cut.features),
        measured=cut.removal_volume,
        limit=VOLUME_NOTHING,
        unit="mm3",
        at=first_place(cut),
        remedy=_remedy(context, stage, cut),
    )


def _remedy(context: Context, stage: Stage, cut: Cut) -> Remedy:
    boss = next((f.id for f in cut.features if f.class_ == "boss"), None)
    if boss is not None and is_empty(cut.swept):
        text = f"Name the pocket, step or face that {boss} stands in: the cutter follows nothing of it from here."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "features"))
    if along_a_vee(cut) and is_empty(cut.swept) and len(cut.features) == 1:
        way = way_into(context.part.body, cut.features[0])
        if way is not None and dot(way, stage.frame.z) < ALONG:
            axis = ", ".join(f"{c + 0.0:.6g}" for c in way)
            text = f"Cut it in a setup whose axis is [{axis}], half way between its flanks."
            return Remedy(text=text, pointer=context.of_setup(stage, "origin", "axis"))
    text = "Leave the step out, or correct its features, order or allowance."
    return Remedy(text=text, pointer=context.of_step(stage, cut))


def _held_up(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """A spot that nobody stated a depth for and that does not come down to the metal on its axis."""
    if cut.step.operation != "center_drilling":
        return
    for one in passes_of(context, stage, cut):
        top = None if one.plunge is None or opens_axis(one) else height_of_metal(context, stage, cut, one.plunge)
        if one.plunge is None or top is None or top > one.plunge.tip_z - LENGTH or _is_open(context, one):
            continue
        above = one.plunge.tip_z - top
        yield Draft(
            message=f"Step {cut.step.id} finds no metal to cut on its axis: an edge of {one.hole.id} holds its tip "
            f"{context.text(above)} above it.",
            features=(one.hole.id,),
            measured=above,
            limit=0.0,
            unit="mm",
            at=one.at,
            remedy=sunk_at(context, stage, cut, one.plunge, top),
        )


def _is_open(context: Context, one: Pass) -> bool:
    """Whether a step before has been on the axis: what lies below is then the bottom of what that step left."""
    place = context.position(one.cut)
    before = (p for p in passes_in(context, context.family(one.hole.id)) if context.position(p.cut) < place)
    return any(p.cut.removal_volume > VOLUME_NOTHING and opens_axis(p) for p in before)


def _because(context: Context, stage: Stage, cut: Cut) -> str:
    """Which earlier step on the same features may have taken it; else why nothing is swept, where that is known."""
    wanted = {f.id for f in cut.features}
    for other_stage, other in reversed(context.earlier(cut)):
        if wanted & {f.id for f in other.features} and other.removal_volume > VOLUME_NOTHING:
            name = other.step.id if other_stage is stage else f"{other_stage.setup.id}/{other.step.id}"
            return f": step {name} was there before"
    return f": {cut.notes[0].rstrip('.')}" if cut.notes and is_empty(cut.swept) else ""
