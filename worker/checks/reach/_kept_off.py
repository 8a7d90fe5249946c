"""Necks and shanks that keep the head of an undercutting cutter off metal of its feature."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from schemas.finding import Remedy
from worker.checks.api import Context, Draft
from worker.checks.reach._result import at_least, at_most
from worker.checks.standing import lump_on, unfinished
from worker.stage.model import Cut, ResolvedStep, Section, Stage
from worker.stage.removal.scene import scene_of
from worker.stage.removal.undercuts import fitting


def kept_off(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """One draft a section and feature with metal left; the sizes that would let the head in are worked out."""
    for feature in cut.features:
        for section in cut.kept_off if feature.id in unfinished(context) else ():
            yield _draft(context, stage, cut, feature, section)


def _draft(context: Context, stage: Stage, cut: Cut, feature: Feature, section: Section) -> Draft:
    thick = cut.tool.neck_diameter if section == "neck" else cut.tool.shank_diameter
    scene = scene_of(context.part, stage.frame, stage.holding, stage.as_is)
    job = ResolvedStep(cut.index, cut.step, cut.tool, cut.features)
    largest = fitting(scene, job, feature, "DN" if section == "neck" else "DMM")
    longest = fitting(scene, job, feature, "LU") if section == "shank" else None
    return Draft(
        message=f"The {section} of {cut.tool.id}, ø {context.text(thick)}, keeps its head off metal of {feature.id}.",
        features=(feature.id,),
        measured=thick,
        limit=largest,
        unit="mm",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=_remedy(context, cut, section, largest, longest),
    )


def _remedy(
    context: Context, cut: Cut, section: Section, largest: float | None, longest: float | None
) -> Remedy | None:
    slim = f"a {section} of at most ø {context.text(at_most(largest))}" if largest is not None else None
    if longest is not None:
        value = at_least(longest)
        text = f"Use a tool with LU of at least {context.text(value)}" + (f", or with {slim}." if slim else ".")
        return Remedy(text=text, pointer=context.of_tool(cut.tool, "LU"), value=value, unit="mm")
    if slim is None or largest is None:
        return None
    pointer = context.of_tool(cut.tool, "DN" if section == "neck" else "DMM")
    return Remedy(text=f"Use a tool with {slim}.", pointer=pointer, value=at_most(largest), unit="mm")
