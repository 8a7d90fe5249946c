"""Which faces some step is meant to finish."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import inf

from schemas.base import Vec3, dot
from schemas.feature import HOLES, Feature
from schemas.finding import Remedy
from schemas.plan import DRILLING
from schemas.tolerances import LENGTH
from worker.checks.api import Context
from worker.checks.holes import passes_of
from worker.checks.milling import finishes
from worker.residual import owners_of
from worker.stage.model import Cut, Stage

NO_FINISH = frozenset({"center_drilling", "tapping", "edge_breaking"})
"""Operations that finish no face of the model."""
PILOT = 0.8
"""A drill below this share of the hole's diameter only prepares it."""


def finishing_steps(context: Context) -> tuple[tuple[Stage, Cut], ...]:
    """Steps that are to leave no metal on what they name."""
    return tuple(
        (stage, cut)
        for stage, cut in context.sequence
        if cut.step.operation not in NO_FINISH and finishes(cut) and not _is_pilot(context, stage, cut)
    )


def _is_pilot(context: Context, stage: Stage, cut: Cut) -> bool:
    """A drill much smaller than all the holes that it goes into."""
    found = passes_of(context, stage, cut) if cut.step.operation in DRILLING else ()
    return bool(found) and all(p.diameter < PILOT * (p.hole.diameter or 0.0) for p in found)


def planned_faces(context: Context) -> frozenset[int]:
    """Faces of the features that a finishing step names."""
    return frozenset(face for _, cut in finishing_steps(context) for f in cut.features for face in f.faces)


def last_step_on(context: Context, features: Collection[str]) -> tuple[Stage, Cut] | None:
    """The last step that cuts one of the features; a spot or a tap does not count."""
    named = [(s, c) for s, c in context.sequence if _works_on(context, s, c, features)]
    cutting = [pair for pair in named if pair[1].step.operation not in NO_FINISH]
    return cutting[-1] if cutting else None


def uncut(context: Context, features: Collection[str]) -> tuple[str, ...]:
    """Those of the features that no step cuts: no other step's cutter mends what is left there."""
    by_itself = (id for id in features if context.part.feature(id).class_ != "boss")
    return tuple(id for id in by_itself if last_step_on(context, (id,)) is None)


def beyond(context: Context, features: Collection[str], cause: Cut) -> tuple[str, ...]:
    """Those of the features that no step cuts and that the cutter of another one cannot make, however near it came:
    holes, and recesses narrower than it."""
    found = (context.part.feature(id) for id in uncut(context, features))
    return tuple(f.id for f in found if f.class_ in HOLES or (f.width or inf) < cause.tool.diameter - LENGTH)


def _works_on(context: Context, stage: Stage, cut: Cut, features: Collection[str]) -> bool:
    """Whether the step names one of the features, or another that has all its faces (a profile its sides'), or works on
    it as an element of the compound that it names."""
    faces = [set(context.part.feature(id).faces) for id in features]
    if any(f.id in features or any(own <= set(f.faces) for own in faces) for f in cut.features):
        return True
    return any(p.hole.id in features for p in passes_of(context, stage, cut))


def explaining(context: Context, faces: Collection[int]) -> tuple[str, ...]:
    """The features that tell best where the faces are: those with the fewest other faces first."""
    rest, found, standing = set(faces), [], owners_of(context.part, tuple(faces))
    while rest:
        owners = [f for f in context.part.features if rest & set(f.faces) and f.id in standing]
        if not owners:
            break
        best = min(owners, key=lambda f: (len(set(f.faces) - set(faces)), -len(rest & set(f.faces)), f.id))
        found.append(best.id)
        rest -= set(best.faces)
    return tuple(found)


def setup_for(context: Context, features: Collection[str], what: str, among: Sequence[Stage] | None = None) -> Remedy:
    """To add a step to the first setup whose axis sees all of the features; else to add a setup, or several where no
    axis does."""
    found = [context.part.feature(id) for id in features]
    for stage in context.stages if among is None else among:
        if found and all(_sees(feature, stage.frame.z) for feature in found):
            return Remedy(
                text=f"Add a {what} to setup {stage.setup.id}, whose axis sees it.",
                pointer=context.of_setup(stage, "workingsteps"),
            )
    if found and not any(all(_sees(feature, way) for feature in found) for way in found[0].access):
        text = "No straight tool sees all of it from one side: add setups that each take a part of it"
        return Remedy(text=f"{text}, use an undercutting tool, or change the part.", pointer="/setups")
    return Remedy(text=f"Add a setup whose axis sees it, with a {what}.", pointer="/setups")


def _sees(feature: Feature, axis: Vec3) -> bool:
    return any(dot(direction, axis) > 1 - 1e-9 for direction in feature.access)
