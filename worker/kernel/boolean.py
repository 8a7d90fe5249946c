"""Booleans that can be relied on: all tools in one call, results checked, retried, merged and traced.

The kernel can lose metal in silence (a valid solid, an empty common, no error), so every result is judged by what
does not depend on the sections it computed: shells, bounds of the volume, points inside both bodies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from OCP.BRepAlgoAPI import (
    BRepAlgoAPI_Common,
    BRepAlgoAPI_Cut,
    BRepAlgoAPI_Fuse,
)

from schemas.tolerances import BALANCE
from worker.kernel.attempts import Raw, attempts, resolved, undivided
from worker.kernel.history import Origin, through_merge
from worker.kernel.journal import note
from worker.kernel.merge import Merged, merged
from worker.kernel.merge import merge as merge_faces
from worker.kernel.shape import EMPTY, Body, compound, faces, is_empty

__all__ = ["Traced", "common", "common_traced", "cut", "cut_traced", "fuse", "merged"]


@dataclass(frozen=True, slots=True)
class Traced:
    """A result with the origin of each face (None where it is unknown) and the way it was reached.

    ``origin[i]`` is (argument number, face index): argument 0 is the stock, n the n-th tool counted from 1.
    ``method`` is "plain", or names the retry that succeeded.
    """

    body: Body
    origin: tuple[Origin | None, ...]
    method: str


def cut(stock: Body, tools: Sequence[Body], merge: bool = True) -> Body:
    """The stock without all tools, in one call; raises KernelError when no attempt stands its checks."""
    return cut_traced(stock, tools, merge).body


def cut_traced(
    stock: Body,
    tools: Sequence[Body],
    merge: bool = True,
    aside: bool = True,
    once: bool = False,
    balance: float = BALANCE,
) -> Traced:
    """Like :func:`cut`, with the origin of each face of the result.

    ``aside`` False: no tool is moved a hair where nothing else works, which for bodies that share most of their faces
    takes minutes; ``once``: nor is anything else tried after the plain way, and ``balance`` is the share of the stock
    that may go astray.
    """
    if is_empty(stock) or all(is_empty(tool) for tool in tools):
        return _untouched(stock)
    arguments = (stock, *tools)
    if aside:
        return _reported("cut", resolved(BRepAlgoAPI_Cut, "cut", arguments), merge)
    found = attempts(BRepAlgoAPI_Cut, "cut", arguments, once, balance)
    return _reported("cut", found, merge)


def common(body: Body, tools: Sequence[Body], merge: bool = True) -> Body:
    """The metal of the body that lies in at least one of the tools."""
    return common_traced(body, tools, merge).body


def common_traced(body: Body, tools: Sequence[Body], merge: bool = True, once: bool = False) -> Traced:
    """Like :func:`common`, with the origin of each face of the result.

    ``once``: nothing is tried after the plain way.
    """
    if is_empty(body) or all(is_empty(tool) for tool in tools):
        return _untouched(EMPTY)
    kind, arguments = BRepAlgoAPI_Common, (body, *tools)
    found = attempts(kind, "common", arguments, once) if once else resolved(kind, "common", arguments)
    return _reported("common", found, merge)


def fuse(bodies: Sequence[Body], merge: bool = True) -> Body:
    """All bodies joined, in one call."""
    present = [body for body in bodies if not is_empty(body)]
    if len(present) < 2:
        return compound(present)
    return _reported("fuse", attempts(BRepAlgoAPI_Fuse, "fuse", present), merge).body


def _untouched(body: Body) -> Traced:
    return Traced(body, tuple((0, i) for i in range(len(faces(body)))), "plain")


def _reported(step: str, raw: Raw, merge: bool) -> Traced:
    """The finished result; any way but the plain one goes into the journal."""
    if raw.method != "plain":
        note(f"{step}: {raw.method}")
    joined = merge_faces(raw.body) if merge else Merged(raw.body, raw.body, None)
    return Traced(joined.body, through_merge(undivided(raw), joined.before, joined.history, joined.body), raw.method)
