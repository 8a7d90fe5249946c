"""What is said where the exact solid model gave up: which step, what carries the metal on, what would help."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from schemas.finding import Remedy
from schemas.tolerances import FACETS
from worker.checks.api import Context, Draft
from worker.field.opinion import Opinion
from worker.stage.model import Cut, Stage
from worker.stage.standing import Failure

SIMPLIFY = "faces that nearly touch or nearly coincide, sizes a hair apart, free-form faces where plain ones would do."


def failure_drafts(context: Context, stage: Stage, opinion: Opinion | None) -> Iterator[Draft]:
    """One error a failed operation; a warning where the setup starts from metal that nobody knows as a solid.

    Where meshes gave the metal, two methods still speak: it is a warning, unless the field has no word of its own.
    """
    for failure in stage.failures:
        yield _meshed(context, stage, failure, opinion) if failure.meshes else _draft(context, stage, failure, opinion)
    if not stage.standing(0).known and not stage.failures:
        yield Draft(
            message=f"{stage.setup.id} starts from metal that no solid model gave{_carried(context, stage, opinion)}: "
            "rules that look at the metal were not judged.",
            level="warning",
        )


def _draft(context: Context, stage: Stage, failure: Failure, opinion: Opinion | None) -> Draft:
    cut = None if failure.index is None else stage.cuts[failure.index]
    features = tuple(f.id for f in cut.features) if cut else ()
    return Draft(
        message=f"{_what(stage, failure, cut)} ({failure.detail}){_carried(context, stage, opinion)}: from there "
        "on, rules that look at the metal were not judged.",
        features=features,
        at=context.part.feature(features[0]).placement.location if features else None,
        remedy=Remedy(text=_remedy(cut)),
        cut=cut,
    )


def _meshed(context: Context, stage: Stage, failure: Failure, opinion: Opinion | None) -> Draft:
    assert failure.index is not None  # meshes cut single steps
    second = opinion is not None and not opinion.unswept and stage.result.known
    words = "both computations still speak" if second else "the second computation does not know it"
    return replace(
        _draft(context, stage, failure, opinion),
        message=f"{_what(stage, failure, stage.cuts[failure.index])} ({failure.detail}); meshes took over: from there "
        f"on round faces of the metal are flats within {FACETS:g} mm, and {words}.",
        level="warning" if second else "error",
    )


def _what(stage: Stage, failure: Failure, cut: Cut | None) -> str:
    if cut is None:
        return f"No exact way to compute the {failure.what} of {stage.setup.id} worked"
    return f"No exact way to compute the {failure.what} of step {cut.step.id} worked"


def _carried(context: Context, stage: Stage, opinion: Opinion | None) -> str:
    """What knows the metal instead, in words."""
    if opinion is None or opinion.unswept:
        return ", and the second computation does not know the metal either"
    return (
        f"; only the {opinion.method} carries the metal on: {context.units.volume_text(opinion.field_volume)} "
        f"after {stage.setup.id}, sure to {context.units.volume_text(opinion.bound)}"
    )


def _remedy(cut: Cut | None) -> str:
    if cut is None:
        return f"Simplify stock and workholding: {SIMPLIFY}"
    faces = sorted({index for feature in cut.features for index in feature.faces})
    shown = ", ".join(map(str, faces[:12])) + (", ..." if len(faces) > 12 else "")
    return f"Simplify the part's faces {shown} (counted from 0) and those beside them: {SIMPLIFY}"
