"""hold.marked: the jaws or clamps bear on a finished face."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from schemas.base import Vec3
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.hold._contacts import opening_word, vise_of
from worker.checks.hold._dents import Borne, bearing, hard
from worker.estimate.strength import YIELD
from worker.kernel import nearness
from worker.stage.model import Stage


@rule(
    "hold.marked",
    scope="stage",
    metal="as_is",
    facets=True,
    why="Jaws and clamps leave their mark; on a finished face that may be a complaint.",
    reference="common practice; no limit of choice. A jaw dents a face where it presses harder than that bears "
    "at the group's yield stress (an estimate)",
)
def marked(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Patches between workholding and as-is stock that already lie on the part's own faces."""
    if not hard(stage):
        yield Skip("no jaws and no clamps, or soft ones")
        return
    for one in bearing(context, stage):
        owners = tuple(f.id for f in context.part.features if _lies_on(context, f.faces, one.at))
        draft = Draft(message=f"{opening_word(one.body)} bears on a finished face.", features=owners, at=one.at)
        yield _dented(context, stage, one, draft)


def _dented(context: Context, stage: Stage, one: Borne, draft: Draft) -> Draft:
    """The finding, or that of a dent where the jaw presses harder than what it meets bears."""
    vise, material = vise_of(stage), context.plan.workpiece.material
    force = vise.clamping_force if vise is not None else None
    group = material.iso513_group if material else None
    if force is None or group is None or force <= one.force:
        return draft
    met, value = context.units.area_text(one.area), math.floor(one.force)
    return replace(
        draft,
        message=f"Estimate: {one.body.name} presses with {force:.0f} N on a finished face, of which it meets {met}; "
        f"they bear {one.force:.0f} N at {YIELD[group]:g} N/mm2: it leaves a dent.",
        measured=round(force, 1),
        limit=round(one.force, 1),
        unit="N",
        remedy=Remedy(
            text=f"Clamp with {value} N at most, if hold.slip allows it, or grip where the jaws meet more metal.",
            pointer=context.of_setup(stage, "workholding", "clamping_force"),
            value=value,
            unit="N",
        ),
    )


def _lies_on(context: Context, faces: tuple[int, ...], point: Vec3) -> bool:
    return nearness.lies_on_faces(context.part.body, faces, point, LENGTH)
