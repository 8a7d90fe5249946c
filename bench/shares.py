"""Where the time of one whole check goes: each part's own processor time, in one warm process, without a cache."""

from __future__ import annotations

import contextlib
import functools
import importlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

from bench.forked import answer_of
from worker import entry
from worker.bundle import pack

RUNS = 3
PARTS: tuple[tuple[str, str], ...] = (
    ("read", "worker.kernel.stepio:read_part"),
    ("recognise", "worker.inputs:survey"),
    ("place", "worker.stage.make:place_holding worker.stage.make:scene_of"),
    ("sweeps", "worker.stage.make:_sweep worker.stage.make:_cut"),
    ("carry", "worker.stage.make:cut_all worker.stage.make:_stage"),
    ("bytes", "worker.cache.kept:encoded worker.cache.kept:decoded"),
    ("facts", "worker.cache.rooms:finish_of"),
    ("reach", "worker.cache.rooms:reach_of"),
    ("field", "worker.cache.rooms:second_opinion"),
    ("rules", "worker.pipeline:run_checks"),
    ("STEP writing", "worker.cache.rooms:write_step"),
    ("report", "worker.pipeline:compose worker.entry:report_document worker.entry:report_bytes"),
    ("else", "worker.pipeline:check_plan"),
)
"""A part's name, and the functions (module:name, as their callers find them) whose own time is its time."""
Seconds = dict[str, float]


class _Clock:
    """Gives the processor time to the part that was entered last."""

    def __init__(self) -> None:
        self.spent: Seconds = {}
        self._open: list[str] = []
        self._since = 0.0

    def _turn(self) -> None:
        now = time.thread_time()
        if self._open:
            self.spent[self._open[-1]] = self.spent.get(self._open[-1], 0.0) + now - self._since
        self._since = now

    def told(self, part: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """The function, with its time told as the part's."""

        @functools.wraps(work)
        def timed(*arguments: Any, **named: Any) -> Any:
            self._turn()
            self._open.append(part)
            try:
                return work(*arguments, **named)
            finally:
                self._turn()
                self._open.pop()

        return timed


@contextlib.contextmanager
def listening() -> Iterator[Seconds]:
    """Within it, every check tells the parts' times into what it gives."""
    clock = _Clock()
    with contextlib.ExitStack() as stack:
        for part, places in PARTS:
            for module, _, name in (place.partition(":") for place in places.split()):
                owner = importlib.import_module(module)
                stack.enter_context(mock.patch.object(owner, name, clock.told(part, getattr(owner, name))))
        yield clock.spent


def shares(folder: Path) -> Seconds:
    """The least time of each part over a few checks, each in a child of its own, as the service runs it."""
    payload = pack({"part": (folder / "part.step").read_bytes(), "plan": (folder / "plan.json").read_bytes()})

    def work() -> Seconds:
        with listening() as spent:
            entry.check(payload, lambda _: None)
        return spent

    runs: list[Seconds] = [answer_of(work) for _ in range(RUNS)]
    return {part: min(run.get(part, 0.0) for run in runs) for part, _ in PARTS}


def lines(folder: Path) -> Iterator[str]:
    """One line a part: its milliseconds and its share of the whole."""
    found = shares(folder)
    whole = sum(found.values())
    for part, seconds in found.items():
        yield f"  {part:<12} {1000 * seconds:7.0f} ms {100 * seconds / whole:5.1f} %"
