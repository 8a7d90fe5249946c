"""The carry: all tools of a setup cut the stock in one call, each step's metal is told apart, what is held stays.

The stock lies in the part's frame for good and is never rebuilt: tools and workholding are brought to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.shape import EMPTY, Body, compound, is_empty, solids
from worker.stage.model import Holding

CONTACT = 1e-3
"""Workholding within this distance of the stock touches it (mm)."""


@dataclass(frozen=True)
class Carried:
    """``removals[i]`` is the metal that step i takes; ``rest`` the solids that stand afterwards, merged."""

    removals: tuple[Body, ...]
    volumes: tuple[float, ...]
    rest: tuple[Body, ...]
    notes: tuple[str, ...] = ()


def cut_all(stock: Body, sweeps: Sequence[Sequence[Body]]) -> Carried:
    """The stock after all steps, in their order; ``sweeps[i]`` are the bodies that step i passes through."""
    try:
        return _by_cells(stock, sweeps)
    except KernelError as error:
        found = _one_by_one(stock, sweeps)
        note = f"The stock was cut step by step, because cutting it at once failed ({error.detail or error.step})."
        return Carried(found.removals, found.volumes, found.rest, (note,))


def _by_cells(stock: Body, sweeps: Sequence[Sequence[Body]]) -> Carried:
    tools, owners = [], []
    for number, bodies in enumerate(sweeps):
        for body in bodies:
            for solid in solids(body):
                tools.append(solid)
                owners.append(number)
    if not tools:
        return Carried((EMPTY,) * len(sweeps), (0.0,) * len(sweeps), solids(stock))
    taken: list[list[Body]] = [[] for _ in sweeps]
    rest = []
    for piece, inside in boolean.cells(stock, tools):
        if inside:
            taken[min(owners[n] for n in inside)].append(piece)
        else:
            rest.append(piece)
    volumes = tuple(sum(measure.volume(piece) for piece in pieces) for pieces in taken)
    return Carried(tuple(compound(p) for p in taken), volumes, _joined(rest))


def _one_by_one(stock: Body, sweeps: Sequence[Sequence[Body]]) -> Carried:
    removals, volumes = [], []
    for bodies in sweeps:
        present = [body for body in bodies if not is_empty(body)]
        removal = boolean.common(stock, present, merge=False) if present else EMPTY
        removals.append(removal)
        volumes.append(measure.volume(removal))
        stock = boolean.cut(stock, present) if not is_empty(removal) else stock
    return Carried(tuple(removals), tuple(volumes), solids(stock))


def _joined(pieces: Sequence[Body]) -> tuple[Body, ...]:
    """Pieces with same-domain faces merged; pieces that share a face are one solid."""
    if len(pieces) < 2:
        return solids(boolean.merged(compound(pieces))) if pieces else ()
    return tuple(solid for piece in pieces for solid in solids(boolean.merged(piece)))


def held_and_loose(rest: Sequence[Body], holding: Holding) -> tuple[Body, tuple[Body, ...]]:
    """The solids that the workholding presses on, as one body, and those that come free."""
    held = [s for s in rest if is_held(s, holding)]
    return compound(held), tuple(s for s in rest if s not in held)


def is_held(solid: Body, holding: Holding) -> bool:
    """True when the workholding presses on the solid: both jaws of a vise, a clamp or bolt, else whatever there is."""
    if holding.jaws is not None:
        return all(_touches(solid, b.body) for b in holding.of("jaw_fixed", "jaw_moving"))
    pressing = holding.of("clamp", "bolt") or holding.bodies
    return any(_touches(solid, b.body) for b in pressing)


def _touches(solid: Body, other: Body) -> bool:
    a, b = measure.bounding_box(solid), measure.bounding_box(other)
    apart = any(p > q + CONTACT or r > s + CONTACT for p, q, r, s in zip(a.min, b.max, b.min, a.max, strict=True))
    return not apart and measure.distance(solid, other).distance <= CONTACT
