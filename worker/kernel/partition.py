"""A stock split by tools in one general fuse: which pieces lie in which tools."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_BuilderAlgo
from OCP.TopoDS import TopoDS_Shape
from OCP.TopTools import TopTools_IndexedMapOfShape

from schemas.tolerances import LENGTH
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.history import Origin, origins
from worker.kernel.measure import volume
from worker.kernel.probe import probe_pieces
from worker.kernel.shape import Body, compound_of, list_of, pop_all, shells, solids
from worker.kernel.validity import shell_faults

CRUMB = LENGTH**3
"""Volume (mm3) of a cube as wide as the least length that counts."""


def split(
    stock: Body, tools: Sequence[Body], groups: Sequence[Sequence[int]] = ()
) -> tuple[tuple[Body, tuple[int, ...]], ...]:
    """The pieces of the stock, each with the numbers (from 0) of the tools it lies in, in kernel order.

    ``groups`` are numbers of tools of which none touches another of its group: these are not looked at in pairs, which
    costs more than the stock where a cone stands in the box of a round wall. Without, each is compared with each.
    Each piece's shells and the inner points of its faces are checked; the caller weighs the pieces, whose volumes sum
    to the stock's. Crumbs without metal in a tool are left out. Raises KernelError when the kernel reports an error or
    a piece is on the wrong side of a tool.
    """
    operation = BRepAlgoAPI_BuilderAlgo()
    operation.SetArguments(list_of([*_each(stock), *_together(tools, groups)]))
    operation.SetRunParallel(False)
    operation.SetNonDestructive(True)
    operation.SetCheckInverted(False)  # the stock was asked before, tools are made outward: the probes below would tell
    with kernel_step("split"):
        operation.Build()
    if not operation.IsDone():
        raise KernelError("split", "the kernel reports an error")
    members = [_piece_map(operation, tool) for tool in tools]
    every = (
        (piece, tuple(n for n, member in enumerate(members) if member.Contains(piece.wrapped)))
        for piece in _pieces(operation, stock)
    )
    found = tuple((piece, inside) for piece, inside in every if not (inside and _is_crumb(piece)))
    faults = [fault for piece, inside in found for fault in shell_faults(piece, weighed=bool(inside))]
    fault = faults[0] if faults else probe_pieces((stock, *tools), found, _sources(operation, (stock, *tools), found))
    if fault:
        raise KernelError("split", fault)
    return found


def _is_crumb(piece: Body) -> bool:
    """Whether a closed piece has no metal. Where a tool's wall winds to and fro about one of the stock's, such crumbs
    come out, a millionth across: their volume is noise of either sign, so it tells nothing of their sides."""
    closed = all(BRep_Tool.IsClosed_s(shell) for shell in shells(piece.wrapped))
    return closed and abs(volume(piece)) <= CRUMB


def _each(body: Body) -> Iterator[TopoDS_Shape]:
    return (solid.wrapped for solid in solids(body))


def _together(tools: Sequence[Body], groups: Sequence[Sequence[int]]) -> Iterator[TopoDS_Shape]:
    """The tools as arguments, each group as one: the kernel compares no member of an argument with another."""
    if not groups:
        return (solid for tool in tools for solid in _each(tool))
    members = ([solid for n in group for solid in _each(tools[n])] for group in groups)
    return (found[0] if len(found) == 1 else compound_of(found) for found in members)


def _sources(
    operation: BRepAlgoAPI_BuilderAlgo, arguments: Sequence[Body], found: Sequence[tuple[Body, tuple[int, ...]]]
) -> tuple[tuple[Origin, ...], ...]:
    """Which arguments' faces each face of all pieces is a piece of."""
    return origins(operation, arguments, Body(compound_of(piece.wrapped for piece, _ in found)))


def _pieces(operation: BRepAlgoAPI_BuilderAlgo, body: Body) -> Iterator[Body]:
    for solid in solids(body):
        if operation.IsDeleted(solid.wrapped):
            continue
        for piece in pop_all(operation.Modified(solid.wrapped)) or (solid.wrapped,):
            yield Body(piece)


def _piece_map(operation: BRepAlgoAPI_BuilderAlgo, body: Body) -> TopTools_IndexedMapOfShape:
    found = TopTools_IndexedMapOfShape()
    for piece in _pieces(operation, body):
        found.Add(piece.wrapped)
    return found
