"""A stock split by tools in one general fuse: which pieces lie in which tools."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from OCP.BRepAlgoAPI import BRepAlgoAPI_BuilderAlgo
from OCP.TopTools import TopTools_IndexedMapOfShape

from worker.kernel.errors import KernelError
from worker.kernel.shape import Body, list_of, pop_all, solids


def split(stock: Body, tools: Sequence[Body]) -> tuple[tuple[Body, tuple[int, ...]], ...]:
    """The pieces of the stock, each with the numbers (from 0) of the tools it lies in, in kernel order.

    Nothing is checked here: the caller weighs the pieces, whose volumes sum to the stock's. Raises KernelError when
    the kernel itself reports an error.
    """
    operation = BRepAlgoAPI_BuilderAlgo()
    operation.SetArguments(list_of(solid.wrapped for body in (stock, *tools) for solid in solids(body)))
    operation.SetRunParallel(False)
    operation.SetNonDestructive(True)
    operation.Build()
    if not operation.IsDone():
        raise KernelError("split", "the kernel reports an error")
    members = [_piece_map(operation, tool) for tool in tools]
    return tuple(
        (piece, tuple(n for n, member in enumerate(members) if member.Contains(piece.wrapped)))
        for piece in _pieces(operation, stock)
    )


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
