"""wall.thin: metal thinner than the limit stands while it is being cut."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal

from schemas.base import Vec3, dot, norm, sub
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Limit, rule
from worker.checks.hold._contacts import could_clamp, jaw_direction, vise_of
from worker.checks.wall._hollow import crushed
from worker.kernel import measure
from worker.kernel.contact import nearest
from worker.kernel.shape import is_empty
from worker.kernel.walls import Wall, thin_walls
from worker.stage.model import Cut, HoldingBody, Stage

ACROSS = 0.7
"""Cosine from which a wall stands across the jaws' axis."""


@rule(
    "wall.thin",
    scope="stage",
    metal="here",
    why="A thin wall gives way under the cutter: it comes out too thick, chatters or tears.",
    reference="common practice, sources differ by a factor of two: aluminium 0.5 to 1 mm, steel 0.8 to 1.5 mm; between "
    "jaws an estimate: straight metal at the group's yield stress, walls over a hollow as beams, p = 2 s (t / l)^2",
    limits=(Limit("least_wall_thickness", 1.0, "mm", "common practice for aluminium with usual care"),),
)
def thin(context: Context, stage: Stage) -> Iterator[Draft]:
    """Walls of the part that a setup makes, and walls that its jaws press on; a skin that goes anyway may be thin."""
    limit = context.limit("least_wall_thickness")
    if is_empty(stage.to_be):
        return
    before = thin_walls(stage.as_is, limit - LENGTH)
    yield from _pressed(context, stage, before, limit)
    yield from crushed(context, stage)
    fresh = [w for w in _of_the_part(context, thin_walls(stage.to_be, limit - LENGTH)) if not _any(w, before)]
    told: list[Wall] = []
    for wall in sorted(fresh, key=lambda w: (w.thickness, w.at)):
        cut = None if any(_overlap(wall, other) for other in told) else _maker(stage, wall)
        told.append(wall)
        if cut is not None:
            yield _draft(context, stage, cut, wall, limit)


def _of_the_part(context: Context, walls: Iterable[Wall]) -> list[Wall]:
    """Walls of the finished part; the others are stock that some step still takes, or that left.stock tells."""
    return [w for w in walls if measure.contains(context.part.body, w.at) != "out"]


def _pressed(context: Context, stage: Stage, walls: Sequence[Wall], limit: float) -> Iterator[Draft]:
    """A wall whose one side a jaw bears on, and the other side stands in the air."""
    if stage.holding.jaws is None:
        return
    axis = jaw_direction(stage, stage.holding.jaws)
    for wall in walls:
        bodies = stage.holding.of("jaw_fixed", "jaw_moving") if abs(dot(wall.normal, axis)) > ACROSS else ()
        for jaw in bodies:
            if nearest(jaw.body, wall.at).distance <= wall.thickness / 2 + LENGTH:
                yield _crushed(context, stage, jaw, wall, limit, _other_way(context, stage, walls))


def _crushed(context: Context, stage: Stage, jaw: HoldingBody, wall: Wall, limit: float, remedy: Remedy) -> Draft:
    return Draft(
        message=f"{jaw.name.capitalize()} presses on a wall {context.text(wall.thickness)} thin; the limit is "
        f"{context.text(limit)}.",
        measured=wall.thickness,
        limit=limit,
        unit="mm",
        at=wall.at,
        remedy=remedy,
    )


def _other_way(context: Context, stage: Stage, walls: Iterable[Wall]) -> Remedy:
    """The other axis, where the stock has flats there, no thin wall, and the vise opens as far; else something behind
    the wall."""
    jaws, vise = stage.holding.jaws, vise_of(stage)
    assert jaws is not None and vise is not None
    other: Literal["X", "Y"] = "Y" if jaws.axis == "X" else "X"
    axis = stage.frame.x if other == "X" else stage.frame.y
    stout = not any(abs(dot(w.normal, axis)) > ACROSS for w in walls)
    if stout and could_clamp(stage, vise, other):
        pointer = context.of_setup(stage, "workholding", "jaw_axis")
        return Remedy(text=f"Clamp along {other}, or fill the hollow behind the wall.", pointer=pointer, value=other)
    text = "Fill the hollow behind the wall while it is clamped, or clamp before the wall is cut."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding"))


def _any(wall: Wall, others: Iterable[Wall]) -> bool:
    return any(_same(wall, other) for other in others)


def _overlap(one: Wall, other: Wall) -> bool:
    """Whether two are places of one wall: beside terraces each of their risers makes one."""
    return norm(sub(one.at, other.at)) < (one.thickness + other.thickness) / 2


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
