"""A kernel whose booleans go wrong at one place of the plan: for tests of what happens then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import pytest
from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.TopoDS import TopoDS, TopoDS_Shell, TopoDS_Solid

from worker.kernel import attempts, partition
from worker.kernel.errors import KernelError
from worker.kernel.measure import bounding_box, volume
from worker.kernel.shape import EMPTY, Body, faces, is_empty, solids

Mode = Literal["raise", "empty", "unchanged", "invalid"]
Rectangle = tuple[float, float, float, float]


@dataclass
class FaultyKernel:
    """Cuts and commons with a tool that stays within a rectangle of x, y go wrong by ``mode``: all, or the first few.

    ``general`` says whether the general fuse that splits a stock fails there too. Bodies of the volume ``spared`` (the
    finished part, for gouges) are cut rightly. ``asked`` counts the booleans met.
    """

    where: Rectangle
    mode: Mode = "raise"
    first: int | None = None
    general: bool = True
    spared: float | None = None
    asked: int = 0
    ways: list[str] = field(default_factory=list)

    def install(self, patch: pytest.MonkeyPatch) -> FaultyKernel:
        """Put it between the product and its kernel."""
        run, split = attempts._run, partition.split

        def faulty_run(kind: Any, step: str, arguments: tuple[Body, ...], **keys: Any) -> attempts.Raw:
            concerned = kind is not BRepAlgoAPI_Fuse and self._concerns(arguments[1:])
            if not concerned or self._is_spared(arguments[0]) or not self._next():
                return run(kind, step, arguments, **keys)
            self.ways.append(",".join(f"{k}={v}" for k, v in keys.items()) or "plain")
            return self._result(kind, step, arguments)

        def faulty_split(stock: Body, tools: Sequence[Body], groups: Sequence[Sequence[int]] = ()) -> Any:
            if self.general and self._concerns(tools):
                raise KernelError("split", "made to fail")
            return split(stock, tools, groups)

        patch.setattr(attempts, "_run", faulty_run)
        patch.setattr("worker.stage.carry.split", faulty_split)
        return self

    def _concerns(self, tools: Sequence[Body]) -> bool:
        return any(_within(bounding_box(tool), self.where) for tool in tools if not is_empty(tool))

    def _is_spared(self, body: Body) -> bool:
        return self.spared is not None and abs(volume(body) - self.spared) < 1e-6 * self.spared

    def _next(self) -> bool:
        self.asked += 1
        return self.first is None or self.asked <= self.first

    def _result(self, kind: Any, step: str, arguments: tuple[Body, ...]) -> attempts.Raw:
        if self.mode == "raise":
            raise KernelError(step, "made to fail")
        stock = arguments[0]
        if self.mode == "empty" or (self.mode == "unchanged" and kind is not BRepAlgoAPI_Cut):
            return attempts.Raw(arguments, EMPTY, ())
        found = stock if self.mode == "unchanged" else _opened(stock)
        return attempts.Raw(arguments, found, tuple(((0, i),) for i in range(len(faces(found)))))


def _within(box: Any, where: Rectangle) -> bool:
    x0, y0, x1, y1 = where
    return bool(x0 <= box.min[0] and y0 <= box.min[1] and box.max[0] <= x1 and box.max[1] <= y1)


def _opened(body: Body) -> Body:
    """The first solid without its last face."""
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face in faces(solids(body)[0])[:-1]:
        builder.Add(shell, face)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return Body(TopoDS.Solid_s(solid))
