"""Booleans that can be relied on: all tools in one call, results checked, retried, merged and traced.

The kernel can lose metal in silence (a valid solid, an empty common, no error), so every result is judged by what
does not depend on the sections it computed: shells, bounds of the volume, points inside both bodies.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from OCP.BRepAlgoAPI import (
    BRepAlgoAPI_BooleanOperation,
    BRepAlgoAPI_BuilderAlgo,
    BRepAlgoAPI_Common,
    BRepAlgoAPI_Cut,
    BRepAlgoAPI_Fuse,
)
from OCP.TopTools import TopTools_IndexedMapOfShape

from worker.kernel.errors import KernelError
from worker.kernel.history import Origin, origins, through_merge
from worker.kernel.measure import volume
from worker.kernel.merge import Merged, merged, unwound_traced, wound_faces
from worker.kernel.merge import merge as merge_faces
from worker.kernel.probe import probe_common, probe_cut
from worker.kernel.shape import EMPTY, Body, compound, copied, face_index, faces, is_empty, list_of, pop_all, solids
from worker.kernel.validity import kernel_accepts, shell_faults

__all__ = ["Traced", "cells", "common", "common_traced", "cut", "cut_traced", "fuse", "merged"]

FUZZY = (1e-5, 1e-4)
"""Fuzzy values (mm) tried after the plain call has failed: never fuzzy alone, never first."""
REJECTED = "the kernel's check rejects it"
BALANCE = 1e-7
"""Relative tolerance of volume bounds: ten times the integration's own error, and then some."""


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


def cut_traced(stock: Body, tools: Sequence[Body], merge: bool = True) -> Traced:
    """Like :func:`cut`, with the origin of each face of the result."""
    if is_empty(stock) or all(is_empty(tool) for tool in tools):
        return _untouched(stock)
    return _attempts(BRepAlgoAPI_Cut, "cut", (stock, *tools), merge, _cut_fault)


def common(body: Body, tools: Sequence[Body], merge: bool = True) -> Body:
    """The metal of the body that lies in at least one of the tools."""
    return common_traced(body, tools, merge).body


def common_traced(body: Body, tools: Sequence[Body], merge: bool = True) -> Traced:
    """Like :func:`common`, with the origin of each face of the result."""
    if is_empty(body) or all(is_empty(tool) for tool in tools):
        return _untouched(EMPTY)
    return _attempts(BRepAlgoAPI_Common, "common", (body, *tools), merge, _common_fault)


def fuse(bodies: Sequence[Body], merge: bool = True) -> Body:
    """All bodies joined, in one call."""
    present = [body for body in bodies if not is_empty(body)]
    if len(present) < 2:
        return compound(present)
    return _attempts(BRepAlgoAPI_Fuse, "fuse", present, merge, _fuse_fault).body


def _untouched(body: Body) -> Traced:
    return Traced(body, tuple((0, i) for i in range(len(faces(body)))), "plain")


_Kind = type[BRepAlgoAPI_BooleanOperation]


@dataclass(frozen=True, slots=True)
class _Raw:
    """An operation's own result before joining faces, with the arguments it was run on."""

    arguments: tuple[Body, ...]
    body: Body
    origin: tuple[tuple[Origin, ...], ...]
    piece_of: tuple[tuple[int, ...], ...] = ()


_Fault = Callable[[_Raw], str]


def _attempts(kind: _Kind, step: str, arguments: Sequence[Body], merge: bool, fault_of: _Fault) -> Traced:
    """The first attempt that stands its checks: divided faces where these wind, plain, copies, fuzzy, order.

    Where only the kernel's own check stands against a result, the balance of cut and common decides.
    """
    complaints, doubted = [], None
    for method, attempt in _ways(kind, step, tuple(arguments)):
        try:
            raw = attempt()
            fault = _first_fault(raw, fault_of)
        except KernelError as error:
            fault = error.detail
        if not fault:
            return _finished(raw, merge, method)
        if fault == REJECTED and doubted is None:
            doubted = (raw, method)
        complaints.append(f"{method}: {fault}")
    if doubted is not None and _balances(kind, doubted[0]):
        return _finished(doubted[0], merge, f"{doubted[1]}, by balance against the kernel's check")
    raise KernelError(step, "; ".join(complaints))


def _balances(kind: _Kind, raw: _Raw) -> bool:
    """True when what was cut and what is common add up to the stock."""
    opposite = {BRepAlgoAPI_Cut: BRepAlgoAPI_Common, BRepAlgoAPI_Common: BRepAlgoAPI_Cut}.get(kind)
    if opposite is None:
        return False
    rest = _run(opposite, "balance", raw.arguments).body
    whole = volume(raw.arguments[0])
    return not any(map(shell_faults, solids(rest))) and (
        abs(whole - volume(raw.body) - volume(rest)) <= BALANCE * whole
    )


def _ways(kind: _Kind, step: str, arguments: tuple[Body, ...]) -> Iterator[tuple[str, Callable[[], _Raw]]]:
    if any(wound_faces(body) for body in arguments):
        yield "faces divided", partial(_run_divided, kind, step, arguments)
    yield "plain", partial(_run, kind, step, arguments)
    yield "copies", partial(_run_copies, kind, step, arguments)
    for fuzzy in FUZZY:
        yield f"fuzzy {fuzzy:g}", partial(_run, kind, step, arguments, fuzzy=fuzzy)
    yield "tools in reverse order", partial(_run, kind, step, arguments, backwards=True)


def _run(kind: _Kind, step: str, arguments: tuple[Body, ...], fuzzy: float = 0.0, backwards: bool = False) -> _Raw:
    operation = kind()
    tools = [solid.wrapped for tool in arguments[1:] for solid in solids(tool)]
    operation.SetArguments(list_of(solid.wrapped for solid in solids(arguments[0])))
    operation.SetTools(list_of(reversed(tools) if backwards else tools))
    operation.SetRunParallel(False)
    operation.SetNonDestructive(True)
    operation.SetFuzzyValue(fuzzy)
    operation.Build()
    if not operation.IsDone():
        raise KernelError(step, "the kernel reports an error")
    result = compound([Body(operation.Shape())])
    return _Raw(arguments, result, origins(operation, arguments, result))


def _run_copies(kind: _Kind, step: str, arguments: tuple[Body, ...]) -> _Raw:
    """The operation on copies, which carry nothing of earlier operations; faces keep their order."""
    return _run(kind, step, tuple(copied(body) for body in arguments))


def _run_divided(kind: _Kind, step: str, arguments: tuple[Body, ...]) -> _Raw:
    """The operation on bodies whose overwound faces were divided."""
    divided = [unwound_traced(body) for body in arguments]
    raw = _run(kind, step, tuple(each.body for each in divided))
    return replace(raw, piece_of=tuple(each.piece_of for each in divided))


def _first_fault(raw: _Raw, fault_of: _Fault) -> str:
    found = [fault for solid in solids(raw.body) for fault in shell_faults(solid)]
    fault = found[0] if found else fault_of(raw)
    return fault or ("" if _accepted(raw) else REJECTED)


def _accepted(raw: _Raw) -> bool:
    """The kernel's own check, except for faces that an argument brought along unchanged."""
    if is_empty(raw.body) or kernel_accepts(raw.body.wrapped):
        return True
    brought = [face_index(body) for body in raw.arguments]
    new = [face for face in faces(raw.body) if not any(known.Contains(face) for known in brought)]
    return all(map(kernel_accepts, new)) and not all(kernel_accepts(body.wrapped) for body in raw.arguments)


def _finished(raw: _Raw, merge: bool, method: str) -> Traced:
    joined = merge_faces(raw.body) if merge else Merged(raw.body, None)
    origin = through_merge(raw.origin, raw.body, joined.history, joined.body)
    if raw.piece_of:
        pieces = raw.piece_of
        origin = tuple(None if source is None else (source[0], pieces[source[0]][source[1]]) for source in origin)
    return Traced(joined.body, origin, method)


def _cut_fault(raw: _Raw) -> str:
    stock, tools = raw.arguments[0], raw.arguments[1:]
    before, after = volume(stock), volume(raw.body)
    if after > before * (1.0 + BALANCE) or after < before * (1.0 - BALANCE) - sum(map(volume, tools)):
        return f"the volume went from {before:.9g} to {after:.9g} mm3"
    return probe_cut(raw.arguments, raw.body, raw.origin)


def _common_fault(raw: _Raw) -> str:
    most = min(volume(raw.arguments[0]), sum(map(volume, raw.arguments[1:])))
    if volume(raw.body) > most * (1.0 + BALANCE):
        return f"the common volume exceeds {most:.9g} mm3"
    return probe_common(raw.arguments, raw.body, raw.origin)


def _fuse_fault(raw: _Raw) -> str:
    parts, joined = [volume(body) for body in raw.arguments], volume(raw.body)
    if not max(parts) * (1.0 - BALANCE) <= joined <= sum(parts) * (1.0 + BALANCE):
        return f"the joined volume {joined:.9g} mm3 is impossible"
    return ""


def cells(stock: Body, tools: Sequence[Body]) -> tuple[tuple[Body, frozenset[int]], ...]:
    """The stock split by all tools: each piece with the numbers (from 0) of the tools it lies in.

    The pieces' volumes sum to the stock's; raises KernelError otherwise.
    """
    operation = BRepAlgoAPI_BuilderAlgo()
    operation.SetArguments(list_of(solid.wrapped for body in (stock, *tools) for solid in solids(body)))
    operation.SetRunParallel(False)
    operation.SetNonDestructive(True)
    operation.Build()
    if not operation.IsDone():
        raise KernelError("cells", "the kernel reports an error")
    members = [_piece_map(operation, tool) for tool in tools]
    found = tuple(
        (piece, frozenset(n for n, member in enumerate(members) if member.Contains(piece.wrapped)))
        for piece in _pieces(operation, stock)
    )
    _check_cells(stock, found)
    return found


def _pieces(operation: BRepAlgoAPI_BuilderAlgo, body: Body) -> Iterator[Body]:
    for solid in solids(body):
        for piece in pop_all(operation.Modified(solid.wrapped)) or (solid.wrapped,):
            yield Body(piece)


def _piece_map(operation: BRepAlgoAPI_BuilderAlgo, body: Body) -> TopTools_IndexedMapOfShape:
    found = TopTools_IndexedMapOfShape()
    for piece in _pieces(operation, body):
        found.Add(piece.wrapped)
    return found


def _check_cells(stock: Body, found: Sequence[tuple[Body, frozenset[int]]]) -> None:
    before, after = volume(stock), sum(volume(piece) for piece, _ in found)
    if abs(after - before) > BALANCE * before:
        raise KernelError("cells", f"the pieces' volumes sum to {after:.9g} instead of {before:.9g} mm3")
