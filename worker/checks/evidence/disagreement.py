"""evidence.disagreement: solid model and dexel field do not agree on the metal that a setup leaves."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import dot
from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.evidence._failures import failure_drafts
from worker.field.opinion import EXTRA, Opinion
from worker.kernel import boolean, measure
from worker.kernel.shape import Body, compound, pick
from worker.kernel.sweep import lift_faces
from worker.stage.model import Cut, Stage

UPWARD = 1e-6
"""Cosine to the spindle from which a face has room above it."""
RELY_NOT = "Do not rely on this setup's result; report it to the product's makers with the part and the plan."


@rule(
    "evidence.disagreement",
    scope="stage",
    metal="none",
    facets=True,
    why="A cut that silently removed nothing leaves a valid solid and a closed balance: only a second, unrelated "
    "computation shows it. No plan passes on one method alone.",
    reference="bound: cell size and round faces of the field (see worker/field/bound.py), no limit of choice",
)
def disagreement(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Tells the first setup where the two part; later ones inherit the difference and are told when it grows.

    Where no solid model gave the metal there is nothing to compare: that is told instead.
    """
    opinions: dict[str, Opinion] | None = context.extras.get(EXTRA)
    found = (opinions or {}).get(stage.setup.id)
    yield from failure_drafts(context, stage, found)
    if opinions is None:
        yield Skip("no second computation was asked for")
        return
    if not stage.result.known:
        return
    if found is None:
        yield Draft(
            message=f"The second computation of {stage.setup.id} failed: its metal rests on one method alone.",
            remedy=Remedy(text=RELY_NOT),
        )
    elif not found.agrees and _is_new(context, stage, opinions, found) and not _left_out(context, stage, found):
        yield _draft(found)


def _is_new(context: Context, stage: Stage, opinions: dict[str, Opinion], found: Opinion) -> bool:
    number = context.number(stage)
    before = opinions.get(context.plan.setups[number - 1].id) if number else None
    inherited = before.difference if before is not None and found.carried else 0.0
    return abs(found.difference - inherited) > found.bound


def _left_out(context: Context, stage: Stage, found: Opinion) -> bool:
    """True when all that the solid has more stands over features that a step has cut, and is told as left there.

    Between slanted walls and in tight corners the solid leaves what a cutter's sweep does not reach for certain; the
    field, coarser, may take it. The solid errs to the safe side there: the metal stays in the way and is reported.
    """
    if found.difference > 0:
        return False
    number = context.number(stage)
    cuts = [(earlier, cut) for earlier in context.stages[: number + 1] for cut in earlier.cuts]
    over = [_above(context, earlier, cut) for earlier, cut in cuts]
    meant = [context.part.body, *(cut.swept for _, cut in cuts)]  # what was swept should be gone: no excuse there
    left = boolean.cut(boolean.common(stage.to_be, over, merge=False), meant, merge=False)
    return measure.volume(left) + found.bound >= -found.difference


def _above(context: Context, stage: Stage, cut: Cut) -> Body:
    """The room over the features of a step, up to the top of the stock, and the corners its tool does not enter."""
    z, part = stage.frame.z, context.part.body
    height = context.part.box.diagonal + measure.bounding_box(stage.as_is).diagonal
    chosen = pick(part, sorted({index for feature in cut.features for index in feature.faces}))
    upward = [face for face in chosen if dot(measure.face_normal(face, measure.face_point_inside(face)), z) > UPWARD]
    return compound([lift_faces(upward, z, height), *(level.body(stage.frame) for level in cut.spared)])


def _draft(found: Opinion) -> Draft:
    more = "less" if found.difference > 0 else "more"
    return Draft(
        message=f"The solid model leaves {abs(found.difference):.4g} mm3 {more} metal after {found.setup} than the "
        f"second computation ({found.method}), which is sure to {found.bound:.3g} mm3.",
        measured=abs(found.difference),
        limit=found.bound,
        unit="mm3",
        remedy=Remedy(text=RELY_NOT),
    )
