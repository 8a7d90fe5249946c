"""datum.absent: the work offset lies in the air, where nothing can be probed."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, norm, sub
from schemas.finding import Remedy
from schemas.tolerances import TOUCH
from worker.checks.api import Context, Draft, rule
from worker.kernel import measure
from worker.kernel.broken_corner import on_a_broken_corner
from worker.kernel.contact import nearest
from worker.kernel.round_axes import on_a_round_axis
from worker.kernel.shape import Body
from worker.stage.model import Stage


@rule(
    "datum.absent",
    scope="stage",
    metal="as_is",
    facets=True,
    why="A zero on a face that is already cut away, or not yet there, cannot be picked up.",
    reference="contract: in or on the as-is metal, or on the axis of one of its bores or bosses; a corner that only "
    "its round or chamfer takes off is picked up by touching the flat faces that make it (common practice)",
)
def absent(context: Context, stage: Stage) -> Iterator[Draft]:
    """The origin against the as-is stock of its own setup."""
    point = stage.frame.location
    gap = nearest(stage.as_is, point)
    if gap.distance <= TOUCH or measure.contains(stage.as_is, point) != "out":
        return
    if on_a_broken_corner(stage.as_is, point, TOUCH):
        return
    if any(on_a_round_axis(body, point, TOUCH) for body in _with_round_faces(context, stage)):
        return
    yield Draft(
        message=f"The origin of {stage.setup.id} lies in the air, {context.text(gap.distance)} from the stock.",
        measured=gap.distance,
        limit=0.0,
        unit="mm",
        at=point,
        remedy=_remedy(context, stage, gap.on_first),
    )


def _with_round_faces(context: Context, stage: Stage) -> list[Body]:
    """The as-is stock; where its round faces are flats, what they were made from: blanks and what tools swept."""
    if stage.standing(0).exact:
        return [stage.as_is]
    earlier = context.stages[: context.number(stage)]
    blanks = [other.as_is for other in earlier if other.standing(0).exact]
    return [*blanks, *(cut.swept for other in earlier for cut in other.cuts)]


def _remedy(context: Context, stage: Stage, near: Vec3) -> Remedy:
    """The nearest point of the metal; where one coordinate mends it, that coordinate."""
    shift = sub(near, stage.frame.location)
    moved = [i for i in range(3) if abs(shift[i]) > 1e-6 * max(norm(shift), 1.0)]
    words = ", ".join(context.units.number(c) for c in near)
    text = f"The nearest metal is at [{words}]: put the location there, or on a face, edge or bore that is there."
    if len(moved) == 1 and isinstance(stage.setup.origin.location, tuple):
        pointer = context.of_setup(stage, "origin", "location", moved[0])
        return Remedy(text=text, pointer=pointer, value=near[moved[0]], unit="mm")
    return Remedy(text=text, pointer=context.of_setup(stage, "origin", "location"), value=f"[{words}]")
