"""Workholding that keeps the head of an undercutting cutter off metal of its feature."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.checks.standing import lump_on, unfinished
from worker.kernel.shadow import Skyline
from worker.stage.model import Cut, ResolvedStep, Stage
from worker.stage.removal.scene import scene_of
from worker.stage.removal.undercuts import reached_area, undercuts


def shut_out(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """One draft a feature with metal left that bodies of the workholding bar the way to."""
    for feature in cut.features:
        if feature.id in unfinished(context) and undercuts(stage.frame, cut.tool, feature):
            names = barring(context, stage, cut, feature)
            if names:
                yield _draft(context, stage, cut, feature, names)


def barring(context: Context, stage: Stage, cut: Cut, feature: Feature) -> tuple[str, ...]:
    """The bodies of the workholding that each alone keep the head off some of the feature."""

    def compute() -> tuple[str, ...]:
        scene = scene_of(context.part, stage.frame, stage.holding, stage.as_is)
        job = ResolvedStep(cut.index, cut.step, cut.tool, cut.features)
        free = reached_area(replace(scene, obstacles=None), job, feature) - VOLUME_NOTHING
        skies = ((held.name, Skyline(held.body, stage.frame)) for held in stage.holding.bodies)
        return tuple(n for n, sky in skies if reached_area(replace(scene, obstacles=sky), job, feature) < free)

    return context.once(f"barring.{stage.setup.id}.{cut.step.id}.{feature.id}", compute)


def _draft(context: Context, stage: Stage, cut: Cut, feature: Feature, names: tuple[str, ...]) -> Draft:
    them = ", ".join(names)
    verb = "keeps" if len(names) == 1 else "keep"
    return Draft(
        message=f"{them} {verb} the head of {cut.tool.id} off metal of {feature.id}.",
        features=(feature.id,),
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=Remedy(
            text=f"Move {them} out of the cutter's way, or cut this feature in another setup.",
            pointer=context.of_setup(stage, "workholding"),
        ),
    )
