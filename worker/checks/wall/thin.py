"""wall.thin: metal thinner than the limit stands while it is being cut."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, norm, sub
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Limit, rule
from worker.kernel.contact import nearest
from worker.kernel.shape import is_empty
from worker.kernel.walls import Wall, thin_walls
from worker.stage.model import Cut, Stage


@rule(
    "wall.thin",
    scope="stage",
    metal="here",
    why="A thin wall gives way under the cutter: it comes out too thick, chatters or tears.",
    reference="common practice, sources differ by a factor of two: aluminium 0.5 to 1 mm, steel 0.8 to 1.5 mm",
    limits=(Limit("least_wall_thickness", 1.0, "mm", "common practice for aluminium with usual care"),),
)
def thin(context: Context, stage: Stage) -> Iterator[Draft]:
    """Walls of the to_be that the as-is stock did not have: flat ones, and those beside and between bores."""
    limit = context.limit("least_wall_thickness")
    if is_empty(stage.to_be):
        return
    before = thin_walls(stage.as_is, limit)
    fresh = [w for w in thin_walls(stage.to_be, limit - LENGTH) if not any(_same(w, old) for old in before)]
    told: list[Wall] = []
    for wall in fresh:
        cut = _maker(stage, wall)
        if cut is None or any(_same(wall, other) for other in told):
            continue
        told.append(wall)
        yield _draft(context, stage, cut, wall, limit)


def _same(one: Wall, other: Wall) -> bool:
    return abs(one.thickness - other.thickness) < LENGTH and norm(sub(one.at, other.at)) < LENGTH


def _maker(stage: Stage, wall: Wall) -> Cut | None:
    """The last step that takes the metal beside the wall."""
    for cut in reversed(stage.cuts):
        if not is_empty(cut.removal) and nearest(cut.removal, wall.at).distance <= wall.thickness / 2 + LENGTH:
            return cut
    return None


def _draft(context: Context, stage: Stage, cut: Cut, wall: Wall, limit: float) -> Draft:
    place: Vec3 = wall.at
    return Draft(
        message=f"A wall {context.text(wall.thickness)} thin stands after step {cut.step.id}; the limit is "
        f"{context.text(limit)}.",
        features=tuple(f.id for f in cut.features),
        measured=wall.thickness,
        limit=limit,
        unit="mm",
        at=place,
        remedy=Remedy(
            text="Cut the other side in a later setup against a support, or leave more metal here until the end.",
            pointer=context.of_step(stage, cut),
        ),
        cut=cut,
    )
