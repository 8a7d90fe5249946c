"""What of a tool has to enter the workholding beyond its sweep through the stock: the cutter, its neck, its shank."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from schemas.finding import Remedy
from schemas.tool import MILLS
from worker.checks import remedies
from worker.checks.api import Context, Draft
from worker.checks.reach._result import at_least, at_most, features_of
from worker.reach.assembly import width_of
from worker.reach.model import Block, Contact, Reach
from worker.stage.model import Cut, Stage


def assembly_drafts(context: Context, stage: Stage, cut: Cut, told: Collection[str]) -> Iterator[Draft]:
    """One finding a body that is not in ``told``; nothing for a step without a path of its own."""
    found = context.reach.get((stage.setup.id, cut.step.id))
    if not isinstance(found, Reach):
        return
    blocks = [block for block in found.blocks if block.body not in told]
    for block in blocks:
        yield _blocked(context, stage, cut, block)
    contact = found.in_holding
    if contact is not None and contact.body not in {*told, *(b.body for b in blocks)}:
        yield _touched(context, stage, cut, contact)


def _blocked(context: Context, stage: Stage, cut: Cut, block: Block) -> Draft:
    room = f": there is room for {context.text(block.widest)}" if block.widest else ""
    return Draft(
        message=f"{cut.tool.id}, ø {context.text(cut.tool.diameter)}, has to enter {block.body} to get here{room}.",
        features=features_of(cut),
        measured=cut.tool.diameter,
        limit=block.widest,
        unit="mm",
        at=block.point,
        remedy=_way_round(context, stage, cut, block),
    )


def _way_round(context: Context, stage: Stage, cut: Cut, block: Block) -> Remedy:
    away = f"move {block.body} away"
    if block.widest is None or cut.tool.type not in MILLS:
        return Remedy(text=f"{away.capitalize()}.", pointer=context.of_setup(stage, "workholding"))
    best = remedies.smaller_tool(context, stage, cut, at_most(block.widest))
    missing = math.ceil((cut.tool.diameter - block.widest) * 100) / 100
    text = f"{best.text.rstrip('.')}, or {away} by {context.text(missing)}."
    return best.model_copy(update={"text": text})


def _touched(context: Context, stage: Stage, cut: Cut, contact: Contact) -> Draft:
    return Draft(
        message=f"The {contact.kind} of {cut.tool.id}, ø {context.text(width_of(cut.tool, contact.kind))}, would go "
        f"{context.text(contact.depth)} below the top of {contact.body}.",
        features=features_of(cut),
        measured=contact.depth,
        limit=0.0,
        unit="mm",
        at=contact.point,
        remedy=_longer(context, cut, contact),
    )


def _longer(context: Context, cut: Cut, contact: Contact) -> Remedy:
    if contact.kind == "cutter":
        text = f"Use a cutter with a KAPR of 90, or move {contact.body} away."
        return Remedy(text=text, pointer=context.of_tool(cut.tool, "KAPR"), value=90.0, unit="deg")
    name = "APMX" if contact.kind == "neck" else "LU"
    start = cut.tool.edge_length if contact.kind == "neck" else cut.tool.usable_length
    value = at_least(start + contact.depth)
    text = f"Use a tool with {name} of at least {context.text(value)}, or move {contact.body} away."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, name), value=value, unit="mm")
