"""reach.shank: a neck or shank thicker than the cutter's own path, or a chamfering cutter's body, meets a wall."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.tool import MILLS
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.order._undercuts import stock_over
from worker.checks.reach._cones import above_its_cone
from worker.checks.reach._in_full import takes_in_full
from worker.checks.reach._kept_off import kept_off
from worker.checks.reach._result import (
    at_least,
    at_most,
    body_word,
    features_of,
    in_passes,
    or_later,
    reach_of_step,
    taken_later,
)
from worker.reach.assembly import width_of
from worker.reach.model import Contact, Reach
from worker.stage.model import Cut, Stage

FOUND = LENGTH + 5e-3
"""The height of a chamfering cutter's tip is found to this (mm)."""


@rule(
    "reach.shank",
    scope="cut",
    metal="here",
    facets=True,
    why="A shank that rubs burns the wall and pushes the cutter off.",
    reference="ISO 13399 DN, DMM, LU, APMX; a shank no thicker than the cutter never touches the wall beside it",
)
def shank(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Tells the cutter itself beside its work; else the deeper one of neck and shank; else a pass that is too deep."""
    yield from kept_off(context, stage, cut)
    found = reach_of_step(context, stage, cut)
    if isinstance(found, Skip):
        yield found
        return
    if found.cutter is not None:
        yield _beside(context, stage, cut, found, found.cutter)
        return
    contacts = [c for c in (found.neck, found.shank) if c is not None]
    if cut.tool.APMX is not None and found.flank > cut.tool.APMX + FOUND:
        yield _above_its_edge(context, cut, found)
    elif contacts and stock_over(context, stage, cut) is None:  # stock in the way of an undercut is order.sequence's
        yield _draft(context, stage, cut, found, max(contacts, key=lambda c: c.depth))
    elif not contacts and _deep_pass(cut, found) > cut.tool.edge_length + LENGTH:
        yield _ploughs(context, stage, cut, found)
    elif not contacts and (draft := above_its_cone(context, stage, cut, found)) is not None:
        yield draft
    elif not contacts and (draft := takes_in_full(context, stage, cut, found)) is not None:
        yield draft


def _deep_pass(cut: Cut, found: Reach) -> float:
    """The deepest pass of a milling step that states one, mm: no deeper than the metal beside its path is high."""
    stated = cut.step.technology.axial_cutting_depth
    return 0.0 if stated is None or cut.tool.type not in MILLS else min(stated, found.depth)


def _above_its_edge(context: Context, cut: Cut, found: Reach) -> Draft:
    """A flank is ground to cut as far up as APMX says: what of it lies on the chamfer above that only rubs."""
    edge, value = cut.tool.APMX or 0.0, at_least(found.flank)
    return Draft(
        message=f"{cut.tool.id} cuts with the lowest {context.text(edge)} of its flank; the chamfer comes up to "
        f"{context.text(found.flank)} over its tip: the flank above the edge would rub on it.",
        features=features_of(cut),
        measured=found.flank,
        limit=edge,
        unit="mm",
        remedy=Remedy(
            text=f"Use a tool with APMX of at least {context.text(value)}.",
            pointer=context.of_tool(cut.tool, "APMX"),
            value=value,
            unit="mm",
        ),
    )


def _ploughs(context: Context, stage: Stage, cut: Cut, found: Reach) -> Draft:
    """Above its edge a cutter does not cut, however thin its neck: a pass is no deeper than the edge is long."""
    deep, edge = _deep_pass(cut, found), cut.tool.edge_length
    return Draft(
        message=f"A pass of {cut.tool.id} is {context.text(deep)} deep, its cutting edge {context.text(edge)} long: "
        "the neck above would plough through metal.",
        features=features_of(cut),
        measured=deep,
        limit=edge,
        unit="mm",
        at=found.deepest,
        remedy=in_passes(context, stage, cut, edge),
    )


def _draft(context: Context, stage: Stage, cut: Cut, found: Reach, contact: Contact) -> Draft:
    return Draft(
        message=f"The {contact.kind} of {cut.tool.id}, ø {context.text(width_of(cut.tool, contact.kind))}, would go "
        f"{context.text(contact.depth)} below the top of {body_word(contact.body)} beside the cut.",
        features=features_of(cut),
        measured=contact.depth,
        limit=0.0,
        unit="mm",
        at=contact.point,
        remedy=_remedy(context, cut, found, contact, or_later(context, stage, cut, contact.body, contact.point)),
    )


def _beside(context: Context, stage: Stage, cut: Cut, found: Reach, contact: Contact) -> Draft:
    """A chamfering cutter that no depth of its tip, or not the stated one, keeps off what stands there."""
    return Draft(
        message=f"{cut.tool.id}, ø {context.text(cut.tool.diameter)}, would go {context.text(contact.depth)} below the "
        f"top of {body_word(contact.body)} while its flank runs on the chamfer.",
        features=features_of(cut),
        measured=cut.tool.diameter,
        limit=None if found.widest_cutter is None else at_most(found.widest_cutter),
        unit="mm",
        at=contact.point,
        remedy=_slimmer(context, stage, cut, found, contact),
    )


def _slimmer(context: Context, stage: Stage, cut: Cut, found: Reach, contact: Contact) -> Remedy:
    if found.clear_tip is not None:
        value = at_most(found.clear_tip)
        text = f"Set bottom_z to {context.text(value)}, or leave it out: the tip is then put where the cutter clears."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "bottom_z"), value=value, unit="mm")
    later = taken_later(context, stage, cut, contact.body, contact.point)
    if later is not None:
        text = f"Cut it after step {later}, which takes the stock in the way."
        return Remedy(text=text, pointer=context.of_step(stage, cut))
    if found.widest_cutter is None:
        text = "Use a cutter with a smaller tip, or cut the chamfer from another side."
        return Remedy(text=text, pointer=context.of_tool(cut.tool, "tip_diameter"))
    value = at_most(found.widest_cutter)
    text = f"Use a cutter of at most ø {context.text(value)}, or cut the chamfer from another side."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, "DC"), value=value, unit="mm")


def _remedy(context: Context, cut: Cut, found: Reach, contact: Contact, or_else: str) -> Remedy:
    name = "APMX" if contact.kind == "neck" else "LU"
    start = cut.tool.edge_length if contact.kind == "neck" else cut.tool.usable_length
    value = at_least(start + contact.depth)
    text = f"Use a tool with {name} of at least {context.text(value)}"
    if contact.kind == "shank" and found.largest_shank is not None:
        text += f", or with a shank of at most ø {context.text(at_most(found.largest_shank))}"
    return Remedy(text=f"{text}{or_else}.", pointer=context.of_tool(cut.tool, name), value=value, unit="mm")
