"""hold.marked: the jaws or clamps bear on a finished face."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.hold._contacts import clamping, opening_word, patches_of, vise_of
from worker.kernel import measure, nearness
from worker.stage.model import HoldingBody, Stage


@rule(
    "hold.marked",
    scope="stage",
    metal="as_is",
    facets=True,
    why="Jaws and clamps leave their mark; on a finished face that may be a complaint.",
    reference="common practice; no limit of choice",
)
def marked(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Patches between workholding and as-is stock that already lie on the part's own faces."""
    vise, bodies = vise_of(stage), clamping(stage)
    if not bodies or (vise is not None and vise.jaws == "soft"):
        yield Skip("no jaws and no clamps, or soft ones")
        return
    for body in bodies:
        found = _finished_point(context, stage, body)
        if found is not None:
            owners = tuple(f.id for f in context.part.features if _lies_on(context, f.faces, found))
            yield Draft(message=f"{opening_word(body)} bears on a finished face.", features=owners, at=found)


def _finished_point(context: Context, stage: Stage, body: HoldingBody) -> Vec3 | None:
    for patch in patches_of(context, stage, body):
        if measure.contains(context.part.body, patch.inside) == "on":
            return patch.inside
    return None


def _lies_on(context: Context, faces: tuple[int, ...], point: Vec3) -> bool:
    return nearness.lies_on_faces(context.part.body, faces, point, LENGTH)
