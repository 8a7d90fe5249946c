"""access.covered: workholding, or stock that nobody has cut, stands over a feature that the step should cut."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.metal import taker_after
from worker.reach.cover import STOCK
from worker.reach.model import Cover, Reach
from worker.stage.model import Cut, Stage


@rule(
    "access.covered",
    scope="cut",
    metal="here",
    facets=True,
    why="What a jaw or a clamp stands on, the tool cannot reach: the metal under it stays.",
    reference="geometry: shadow of workholding and stock on the feature's faces, from the setup's axis",
)
def covered(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """One finding a body, with all the features under it."""
    found = context.reach.get((stage.setup.id, cut.step.id))
    if not isinstance(found, Reach):
        yield Skip("the step has no path of its own")
        return
    for name in dict.fromkeys(c.body for c in found.covered):
        yield _draft(context, stage, cut, name, [c for c in found.covered if c.body == name])


def _draft(context: Context, stage: Stage, cut: Cut, name: str, covers: list[Cover]) -> Draft:
    features = tuple(dict.fromkeys(c.feature for c in covers))
    what = "Stock that nobody has cut yet" if name == STOCK else f"'{name}' of the workholding"
    return Draft(
        message=f"{what} stands over {', '.join(features)} in {stage.setup.id}.",
        features=features,
        at=covers[0].point,
        remedy=_uncover(context, stage, cut, covers[0]) if name == STOCK else _remedy(context, stage, features),
    )


def _uncover(context: Context, stage: Stage, cut: Cut, cover: Cover) -> Remedy:
    """To wait for the step that takes the stock, else to add one before."""
    x, y, z = stage.frame.to_local(cover.point)
    over = stage.frame.to_world((x + cut.tool.diameter, y, z + 2 * LENGTH))  # the tool's own column is its own
    taker = taker_after(context, cut, over)
    if taker is not None:
        name = taker[1].step.id if taker[0] is stage else f"{taker[0].setup.id}/{taker[1].step.id}"
        return Remedy(text=f"Move step {cut.step.id} behind step {name}.", pointer=context.of_step(stage, cut))
    return Remedy(text="Face or drill what stands over it first.", pointer=context.of_setup(stage, "workingsteps"))


def _remedy(context: Context, stage: Stage, features: tuple[str, ...]) -> Remedy:
    other = next((s for s in context.stages if s is not stage and _may_cut(context, s, features)), None)
    if other is not None:
        return Remedy(
            text=f"Cut it in setup {other.setup.id}, whose axis sees it, or move what stands over it.",
            pointer=context.of_setup(stage, "workingsteps"),
        )
    return Remedy(text="Move what stands over it.", pointer=context.of_setup(stage, "workholding"))


def _may_cut(context: Context, stage: Stage, features: tuple[str, ...]) -> bool:
    """True when the other setup has the same axis among the features' access directions."""
    z = stage.frame.z
    known = [context.part.feature(id) for id in features]
    return all(any(sum(a * b for a, b in zip(d, z, strict=True)) > 1 - 1e-9 for d in f.access) for f in known)
