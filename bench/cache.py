"""Re-checks of the four-setup example after edits of its last setup, beside the same without a cache.

In processor seconds, the least of a few runs: other work on the machine says nothing here.
"""

from __future__ import annotations

import copy
import gc
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import worker.warm
from bench.check import as_installed
from worker import entry
from worker.bundle import pack, unpack
from worker.cache.results import Answer, Results
from worker.cache.store import Place

Json = dict[str, Any]
EXAMPLE = Path("examples/valve_body")
RUNS = 3
EDITED, UNCHANGED = 0.35, 0.10
"""Budgets: shares of the time without a cache."""


def _tool(plan: Json) -> None:
    """Each tool of the setup, clamped 1 mm longer there."""
    known = {tool["id"]: tool for tool in plan["tools"]}
    for step in plan["setups"][3]["workingsteps"]:
        longer = {**known[step["tool"]], "id": f"{step['tool']}L"}
        longer["stickout"] += 1
        if longer["id"] not in known:
            plan["tools"].append(longer)
            known[longer["id"]] = longer
        step["tool"] = longer["id"]


def _jaws(plan: Json) -> None:
    plan["setups"][3]["workholding"]["jaw_height"] += 1


def _depth(plan: Json) -> None:
    plan["setups"][3]["workingsteps"][0]["allowance_bottom"] = 0.27


def _words(plan: Json) -> None:
    plan["setups"][3]["instructions"] = "wipe the jaws"


EDITS: dict[str, Callable[[Json], None]] = {
    "longer tools": _tool, "higher jaws": _jaws, "other allowance": _depth, "other words": _words,
}  # fmt: skip


def edited(change: Callable[[Json], None]) -> bytes:
    """The example's plan with one change in its last setup."""
    plan = copy.deepcopy(json.loads((EXAMPLE / "plan.json").read_text()))
    change(plan)
    return json.dumps(plan).encode()


def in_worker(plan: bytes, folder: str | None) -> float:
    """Processor seconds of a job in a child forked from this process, which has loaded what a warm server has.

    A plan that was answered before costs no child: then those of asking.
    """
    part, begin = (EXAMPLE / "part.step").read_bytes(), time.process_time()
    results = Results(Place(folder or "")) if folder else None
    name = results.name(part, plan, {}, ()) if results else None
    spent: list[float] = []

    def compute() -> Answer:
        place = {"cache": Place(folder).packed()} if folder else {}
        parts, seconds = _forked(pack({"part": part, "plan": plan, **place}))
        spent.append(seconds)
        return parts, 0

    if results:
        results.answer(name, compute)
    else:
        compute()
    return time.process_time() - begin + sum(spent)


def _forked(payload: bytes) -> tuple[dict[str, bytes], float]:
    with tempfile.NamedTemporaryFile() as answer:
        child = os.fork()
        if child == 0:
            gc.disable()  # as the server's children do
            Path(answer.name).write_bytes(entry.check(payload, lambda _: None))
            os._exit(0)
        _, status, used = os.wait4(child, 0)
        if status:
            raise RuntimeError("the check broke off")
        return unpack(Path(answer.name).read_bytes()), used.ru_utime + used.ru_stime


def as_command(plan: bytes, folder: str | None) -> float:
    """Processor seconds of a command in a process of its own, child included."""
    with tempfile.TemporaryDirectory() as out:
        path = Path(out) / "plan.json"
        path.write_bytes(plan)
        words = [sys.executable, "-m", "service.cli.main", "check", str(EXAMPLE / "part.step"), str(path)]
        command = subprocess.Popen(
            [*words, "--out", out, "--quiet", "--cache", folder or ""], stdout=subprocess.DEVNULL, env=as_installed()
        )
        _, _, used = os.wait4(command.pid, 0)
        return used.ru_utime + used.ru_stime


def measure(run: Callable[[bytes, str | None], float], where: str) -> None:
    """One line for a plan that did not change, and one for each edit; each edit meets a cache that saw the plan."""
    plan = (EXAMPLE / "plan.json").read_bytes()
    with tempfile.TemporaryDirectory() as seen:
        run(plan, seen)
        cold = min(run(plan, None) for _ in range(RUNS))
        print(f"{where}, without a cache: {cold:.2f} s")
        same = min(run(plan, seen) for _ in range(RUNS))
        print(f"{where}, nothing changed: {same:.3f} s, {100 * same / cold:.1f} % (budget {100 * UNCHANGED:.0f} %)")
        for words, change in EDITS.items():
            spent = min(_once(run, edited(change), seen) for _ in range(RUNS))
            share = f"{100 * spent / cold:.1f} % (budget {100 * EDITED:.0f} %)"
            print(f"{where}, last of four setups: {words}: {spent:.2f} s, {share}")


def _once(run: Callable[[bytes, str | None], float], plan: bytes, seen: str) -> float:
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(seen, folder, dirs_exist_ok=True)
        return run(plan, folder)


def watching() -> None:
    """The same edits, saved one after the other under ``--watch``, beside a command without a cache."""
    plan = (EXAMPLE / "plan.json").read_bytes()
    cold = min(as_command(plan, None) for _ in range(RUNS))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.json"
        path.write_bytes(plan)
        words = [sys.executable, "-m", "service.cli.main", "check", str(EXAMPLE / "part.step"), str(path), "--watch"]
        out, env = ["--out", str(Path(folder) / "out"), "--quiet"], as_installed()
        with subprocess.Popen([*words, *out], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=env) as running:
            _next(running)
            for name, change in EDITS.items():
                before = _used_by(running.pid)
                path.write_bytes(edited(change))
                _next(running)
                spent = _used_by(running.pid) - before
                share = f"{100 * spent / cold:.1f} % (budget {100 * EDITED:.0f} %)"
                print(f"watching, last of four setups: {name}: {spent:.2f} s, {share}")
            running.kill()


def _next(running: subprocess.Popen[bytes]) -> None:
    """Waits for the end of the next check."""
    assert running.stderr is not None
    while b"waiting for a change" not in running.stderr.readline():
        pass


def _used_by(pid: int) -> float:
    """Processor seconds of a process and of all that it started, those that have ended included (proc(5))."""
    words = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    own: float = sum(map(int, words[11:15])) / os.sysconf("SC_CLK_TCK")
    return own + sum(_used_by(int(child)) for child in children)


def main() -> None:
    """Print all figures of this bench."""
    assert worker.warm  # loaded, so that children have it
    measure(in_worker, "warm worker")
    measure(as_command, "command")
    watching()


if __name__ == "__main__":
    main()
