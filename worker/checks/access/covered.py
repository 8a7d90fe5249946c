"""access.covered: workholding stands over a feature that the step should cut."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Skip, rule
from worker.reach.model import Cover, Reach
from worker.stage.model import Cut, Stage


@rule(
    "access.covered",
    scope="cut",
    metal="here",
    facets=True,
    why="What a jaw or a clamp stands on, the tool cannot reach: the metal under it stays.",
    reference="geometry: shadow of the workholding on the feature's faces, from the setup's axis",
)
def covered(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """One finding a body, with all the features under it."""
    found = context.reach.get((stage.setup.id, cut.step.id))
    if not isinstance(found, Reach):
        yield Skip("the step has no path of its own")
        return
    for name in dict.fromkeys(c.body for c in found.covered):
        yield _draft(context, stage, name, [c for c in found.covered if c.body == name])


def _draft(context: Context, stage: Stage, name: str, covers: list[Cover]) -> Draft:
    features = tuple(dict.fromkeys(c.feature for c in covers))
    return Draft(
        message=f"'{name}' of the workholding stands over {', '.join(features)} in {stage.setup.id}.",
        features=features,
        at=covers[0].point,
        remedy=_remedy(context, stage, features),
    )


def _remedy(context: Context, stage: Stage, features: tuple[str, ...]) -> Remedy:
    other = next((s for s in context.stages if s is not stage and _may_cut(context, s, features)), None)
    if other is not None:
        return Remedy(
            text=f"Cut it in setup {other.setup.id}, whose axis sees it, or move what stands over it.",
            pointer=context.of_setup(stage, "workingsteps"),
            value=other.setup.id,
        )
    return Remedy(text="Move what stands over it.", pointer=context.of_setup(stage, "workholding"))


def _may_cut(context: Context, stage: Stage, features: tuple[str, ...]) -> bool:
    """True when the other setup has the same axis among the features' access directions."""
    z = stage.frame.z
    known = [context.part.feature(id) for id in features]
    return all(any(sum(a * b for a, b in zip(d, z, strict=True)) > 1 - 1e-9 for d in f.access) for f in known)
