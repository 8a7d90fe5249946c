"""left.feature: no step finishes this feature."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.feature import Feature
from schemas.finding import Remedy
from worker.checks.api import Context, Draft, rule
from worker.checks.left._planned import last_step_on, planned_faces
from worker.checks.standing import left_lumps, lump_on


@rule(
    "left.feature",
    scope="plan",
    why="A feature that the plan forgets, or only roughs, is found when the part is measured.",
    reference="contract: a face is finished when no stock stands on it at the end, whichever step took it off",
)
def left_feature(context: Context) -> Iterator[Draft]:
    """Faces that metal stands on and no finishing step names, told by the feature that fits them best."""
    covered = frozenset(face for lump in left_lumps(context) for face in lump.faces)
    open_faces = set(covered - planned_faces(context))
    while open_faces:
        best = _best(context, open_faces)
        if best is None:
            return
        yield _draft(context, best)
        open_faces -= set(best.faces)


def _best(context: Context, open_faces: set[int]) -> Feature | None:
    """The feature with the fewest other faces; of those the one that explains most of them."""
    owners = [f for f in context.part.features if open_faces & set(f.faces)]
    rank = {f.id: (len(set(f.faces) - open_faces), -len(open_faces & set(f.faces)), f.id) for f in owners}
    return min(owners, key=lambda f: rank[f.id], default=None)


def _draft(context: Context, feature: Feature) -> Draft:
    last = last_step_on(context, context.family(feature.id))
    how = f": step {last[1].step.id} of {last[0].setup.id} leaves an allowance or only prepares it" if last else ""
    return Draft(
        message=f"No step finishes {feature.id}{how}.",
        features=(feature.id,),
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=_remedy(context, feature),
        stage=last[0] if last else None,
        cut=last[1] if last else None,
    )


def _remedy(context: Context, feature: Feature) -> Remedy:
    """The setup whose axis sees the feature; the first of them."""
    for stage in context.stages:
        if any(sum(a * b for a, b in zip(d, stage.frame.z, strict=True)) > 1 - 1e-9 for d in feature.access):
            return Remedy(
                text=f"Add a finishing step to setup {stage.setup.id}, whose axis sees it.",
                pointer=context.of_setup(stage, "workingsteps"),
            )
    return Remedy(text="Add a setup whose axis sees it.", pointer="/setups")
