"""evidence.disagreement: solid model and dexel field do not agree on the metal that a setup leaves."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Skip, rule
from worker.field.opinion import EXTRA, Opinion
from worker.stage.model import Stage

RELY_NOT = "Do not rely on this setup's result; report it to the product's makers with the part and the plan."


@rule(
    "evidence.disagreement",
    scope="stage",
    why="A cut that silently removed nothing leaves a valid solid and a closed balance: only a second, unrelated "
    "computation shows it. No plan passes on one method alone.",
    reference="bound: cell size and round faces of the field (see worker/field/bound.py), no limit of choice",
)
def disagreement(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Tells the first setup where the two part; later ones inherit the difference and are told when it grows."""
    opinions: dict[str, Opinion] | None = context.extras.get(EXTRA)
    if opinions is None:
        yield Skip("no second computation was asked for")
        return
    found = opinions.get(stage.setup.id)
    if found is None:
        yield Draft(
            message=f"The second computation of {stage.setup.id} failed: its metal rests on one method alone.",
            remedy=Remedy(text=RELY_NOT),
        )
    elif not found.agrees and _is_new(context, stage, opinions, found):
        yield _draft(found)


def _is_new(context: Context, stage: Stage, opinions: dict[str, Opinion], found: Opinion) -> bool:
    number = context.number(stage)
    before = opinions.get(context.plan.setups[number - 1].id) if number else None
    inherited = before.difference if before is not None and found.carried else 0.0
    return abs(found.difference - inherited) > found.bound


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
