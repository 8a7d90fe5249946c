"""Where the time of a check goes, in one warm process, and the carry beside the bare booleans of the same volumes."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.TopoDS import TopoDS_Shape
from OCP.TopTools import TopTools_ListOfShape

from bench.shares import lines
from worker.inputs import Inputs, read_inputs
from worker.kernel.shape import solids
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.reach import reach_of
from worker.recognise import recognise
from worker.resolve import resolve
from worker.stage import carry, make
from worker.stage.model import Stage

RUNS = 5
RECOGNITION, CARRY, RATIO = 0.3, 1.5, 3.0
"""Budgets: seconds, seconds, times the bare booleans."""


def seconds(work: Callable[[], Any]) -> float:
    """Median processor seconds of a few runs."""
    found = []
    for _ in range(RUNS):
        begin = time.process_time()
        work()
        found.append(time.process_time() - begin)
    return statistics.median(found)


def bare_booleans(stages: tuple[Stage, ...]) -> None:
    """The kernel's own cut, one call a setup, of the very bodies that the carry is given; nothing checked or merged."""
    for stage in stages:
        operation = BRepAlgoAPI_Cut()
        operation.SetArguments(_listed([s.wrapped for s in solids(stage.as_is)]))
        operation.SetTools(_listed([s.wrapped for cut in stage.cuts for s in solids(cut.swept)]))
        operation.Build()


def _listed(shapes: list[TopoDS_Shape]) -> TopTools_ListOfShape:
    found = TopTools_ListOfShape()
    for shape in shapes:
        found.Append(shape)
    return found


def recorded(inputs: Inputs) -> tuple[tuple[Stage, ...], list[tuple[Any, ...]]]:
    """The stages, and what the carry of each was called with."""
    calls: list[tuple[Any, ...]] = []

    def listening(*arguments: Any) -> Any:
        calls.append(arguments)
        return carry.cut_all(*arguments)

    with mock.patch.object(make, "cut_all", listening):
        resolved = resolve(inputs.plan, inputs.part.features, on_feature_of(inputs.part))
        return cut_all(inputs, resolved, lambda _: None), calls


def _reach(inputs: Inputs, stages: tuple[Stage, ...]) -> None:
    for stage in stages:
        reach_of(stage, inputs.part)


def read(folder: Path) -> Inputs:
    """Part and plan of an example."""
    return read_inputs((folder / "part.step").read_bytes(), (folder / "plan.json").read_bytes(), {})


def measure_phases(folder: Path) -> Iterator[str]:
    """One line a phase, after one for each part's share of a whole check."""
    yield from lines(folder)  # first: its children must not come from a process that has run the kernel
    inputs = read(folder)
    stages, calls = recorded(inputs)
    found = seconds(lambda: recognise(inputs.part.body))
    yield f"recognition, warm: {found:.3f} s (budget {RECOGNITION})"
    yield f"sweeps and carry, warm: {seconds(lambda: recorded(inputs)):.3f} s"
    carried = seconds(lambda: [carry.cut_all(*call) for call in calls])
    bare = seconds(lambda: bare_booleans(stages))
    yield f"carry, warm: {carried:.3f} s (budget {CARRY}), bare booleans {bare:.3f} s"
    yield f"carry beside bare booleans: {carried / bare:.2f} (budget {RATIO})"
    yield f"reach of every step, warm: {seconds(lambda: _reach(inputs, stages)):.3f} s"
