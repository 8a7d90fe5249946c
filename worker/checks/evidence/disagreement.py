"""evidence.disagreement: solid model and dexel field do not agree on the metal that a setup leaves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.evidence._failures import failure_drafts
from worker.field.opinion import EXTRA, Opinion
from worker.kernel import measure
from worker.kernel.shape import is_empty, solids
from worker.stage.model import Stage

RELY_NOT = "Do not rely on this setup's result; report it to the product's makers with the part and the plan."


@rule(
    "evidence.disagreement",
    scope="stage",
    metal="none",
    facets=True,
    why="A cut that silently removed nothing leaves a valid solid and a closed balance: only a second, unrelated "
    "computation shows it. No plan passes on one method alone. The same holds where the last stock lacks metal of the "
    "part and no step was found to cut into it.",
    reference="bound: cell size and round faces of the field (worker/field/bound.py), or, where that is wide or the "
    "volumes differ, the chords between lines of both (worker/field/closer.py); no limit of choice",
)
def disagreement(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Tells the first setup where the two part; later ones inherit the difference and are told when it grows.

    Where no solid model gave the metal there is nothing to compare: that is told instead.
    """
    opinions: dict[str, Opinion] | None = context.extras.get(EXTRA)
    found = (opinions or {}).get(stage.setup.id)
    yield from failure_drafts(context, stage, found)
    yield from _lost_drafts(context, stage)
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
        return
    found = replace(found, bound=found.bound + stage.result.doubt)
    if not found.agrees and _is_new(context, stage, opinions, found):
        yield _draft(context, found)
    elif found.borrowed:
        yield _on_one_method(stage, found)


def _lost_drafts(context: Context, stage: Stage) -> Iterator[Draft]:
    """The end of the plan, where the finished part is not all there and no step was found to be at fault."""
    lost = context.finish.lost
    if stage is context.stages[-1] and not is_empty(lost):
        yield Draft(
            message=f"The stock after {stage.setup.id} lacks {context.units.volume_text(measure.volume(lost))} of the "
            "finished part, and no step was found to cut into it.",
            at=measure.centroid(max(solids(lost), key=measure.volume)),
            remedy=Remedy(text=RELY_NOT),
        )


def _is_new(context: Context, stage: Stage, opinions: dict[str, Opinion], found: Opinion) -> bool:
    number = context.number(stage)
    before = opinions.get(context.plan.setups[number - 1].id) if number else None
    inherited = before.difference if before is not None and found.carried and not before.agrees else 0.0
    return abs(found.difference - inherited) > found.bound


def _on_one_method(stage: Stage, found: Opinion) -> Draft:
    steps = ", ".join(found.borrowed)
    return Draft(
        message=f"The second computation cannot tell what steps {steps} of {found.setup} take and took that over from "
        "the solid model: these rest on one method alone.",
        cut=next(cut for cut in stage.cuts if cut.step.id == found.borrowed[0]),
        remedy=Remedy(text=RELY_NOT),
    )


def _draft(context: Context, found: Opinion) -> Draft:
    size = context.units.volume_text(abs(found.difference))
    more = "less" if found.difference > 0 else "more"
    return Draft(
        message=f"The solid model leaves {size} {more} metal after {found.setup} than the "
        f"second computation ({found.method}), which is sure to {context.units.volume_text(found.bound)}.",
        measured=abs(found.difference),
        limit=found.bound,
        unit="mm3",
        at=found.at,
        remedy=Remedy(text=RELY_NOT),
    )
