"""left.feature: no step finishes this feature."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.thread_forms import is_tapped
from worker.checks.api import Context, Draft, rule
from worker.checks.holes import tap_of
from worker.checks.left._corners import is_point
from worker.checks.left._disabled import switched_off
from worker.checks.left._planned import beyond, explaining, last_step_on, planned_faces, setup_for
from worker.checks.standing import left_lumps, lump_on
from worker.checks.standing_cause import cause_of
from worker.stage.model import Stage


@rule(
    "left.feature",
    scope="plan",
    metal="end",
    facets=True,
    why="A feature that the plan forgets, or only roughs, is found when the part is measured.",
    reference="contract: a face is finished when no stock stands on it at the end, whichever step took it off",
)
def left_feature(context: Context) -> Iterator[Draft]:
    """Faces under metal that no finishing step names, told by the feature that fits best; a large cutter is no gap,
    where it is the feature's."""
    covered: set[int] = set()
    forgotten: dict[str, None] = {}
    for lump in (x for x in left_lumps(context) if not is_point(context, x)):
        cause = cause_of(context, lump)
        if cause is None:
            covered.update(lump.faces)
        else:
            forgotten |= dict.fromkeys(beyond(context, explaining(context, lump.faces), cause[1]))
    for id in dict.fromkeys((*explaining(context, covered - planned_faces(context)), *forgotten)):
        yield _draft(context, context.part.feature(id))
    for feature in context.part.features:
        if feature.class_ == "round_hole" and feature.thread and tap_of(context, feature) is None:
            yield _untapped(context, feature) if is_tapped(feature.thread) else _unmakable(feature)


def _untapped(context: Context, feature: Feature) -> Draft:
    """The model states a thread that the plan does not cut: its metal is not in the solid, so no lump shows it."""
    last = last_step_on(context, {feature.id, *_compound_of(context, feature)})
    return Draft(
        message=f"No step taps the thread {feature.thread} in {feature.id}.",
        features=(feature.id,),
        at=feature.placement.location,
        remedy=_remedy(context, feature, last[0] if last else None, "tapping"),
        stage=last[0] if last else None,
    )


def _unmakable(feature: Feature) -> Draft:
    """A thread of several starts, of a taper or with other flanks: no plan can say how it is made, so none fails."""
    return Draft(
        message=f"No step makes the thread {feature.thread} in {feature.id}: no tool of a plan does, see to it apart.",
        features=(feature.id,),
        at=feature.placement.location,
        level="warning",
    )


def _draft(context: Context, feature: Feature) -> Draft:
    family = {feature.id, *feature.elements, *_compound_of(context, feature)}
    last = last_step_on(context, family)
    how = f": step {last[1].step.id} of {last[0].setup.id} leaves an allowance or only prepares it" if last else ""
    return Draft(
        message=f"No step finishes {feature.id}{how}.",
        features=(feature.id,),
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=switched_off(context, family) or _remedy(context, feature, last[0] if last else None),
        stage=last[0] if last else None,
        cut=last[1] if last else None,
    )


def _compound_of(context: Context, feature: Feature) -> tuple[str, ...]:
    return tuple(f.id for f in context.part.features if feature.id in f.elements)


def _remedy(context: Context, feature: Feature, already: Stage | None, kind: str = "finishing") -> Remedy:
    """The setup that works on the feature already, else the first whose axis sees it."""
    return setup_for(context, (feature.id,), f"{kind} step", (already,) if already else None)
