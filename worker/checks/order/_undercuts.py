"""Undercuts whose way in is not open: stock stands where the neck or shank of the cutter must pass."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, add
from schemas.tolerances import LENGTH
from worker.checks.api import Context
from worker.checks.metal import taker_after
from worker.reach.model import Contact, Reach
from worker.stage.model import Cut, Stage


def stock_over(context: Context, stage: Stage, cut: Cut) -> Contact | None:
    """The deepest contact of an undercutting cutter's neck and shank with stock that the part does not need."""
    found = context.reach.get((stage.setup.id, cut.step.id))
    if not cut.stands or not isinstance(found, Reach):
        return None
    contacts = [c for c in (found.neck, found.shank) if c is not None and c.body == "stock"]
    return max(contacts, key=lambda c: c.depth, default=None)


def unopened(context: Context) -> Iterator[tuple[Stage, Cut, tuple[Stage, Cut] | None, Vec3]]:
    """Stage and step of the cutter, the later step that takes what is in its way (None: no step does), and where."""
    for stage, cut in context.sequence:
        contact = stock_over(context, stage, cut)
        if contact is not None:
            below = add(contact.point, stage.frame.z, -LENGTH)
            yield stage, cut, taker_after(context, cut, below), contact.point
