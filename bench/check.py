"""The main job, timed in fresh processes: the 4-setup example, the parts of its time, and growth with workingsteps."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from worker.job import run_check

EXAMPLE = Path("examples/valve_body")
RUNS = 5
COUNTS = (25, 50, 100, 200)
WALL, WARM, MEMORY = 4.0, 2.5, 1.2e9
"""Budgets: seconds of a cold process and of a job in a warm worker on one core, bytes of resident memory."""


def as_installed() -> dict[str, str]:
    """The environment of a command that finds its own modules compiled, as an installed package does."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def cold(part: Path, plan: Path) -> tuple[float, float]:
    """Wall seconds and largest resident memory (bytes) of one cold ``reclamp check`` pinned to one core."""
    with tempfile.TemporaryDirectory() as out:
        command = [sys.executable, "-m", "service.cli.main", "check", str(part), str(plan), "--out", out, "--quiet"]
        begin = time.perf_counter()
        subprocess.run(["taskset", "-c", "0", *command], stdout=subprocess.DEVNULL, check=False, env=as_installed())
        wall = time.perf_counter() - begin
    return wall, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024.0


def example() -> None:
    """The 4-setup example, cold; a first run compiles what was edited."""
    cold(EXAMPLE / "part.step", EXAMPLE / "plan.json")
    runs = [cold(EXAMPLE / "part.step", EXAMPLE / "plan.json") for _ in range(RUNS)]
    walls = [wall for wall, _ in runs]
    print(f"check, 4-setup example, cold, one core: median {statistics.median(walls):.2f} s "
          f"(min {min(walls):.2f}, max {max(walls):.2f}, budget {WALL:.1f}), "
          f"peak {max(m for _, m in runs) / 1e6:.0f} MB (budget {MEMORY / 1e6:.0f})")  # fmt: skip


def warm() -> None:
    """The same in a warm worker, as the service runs it: a child of a fork server that has loaded everything."""
    inputs = (EXAMPLE / "part.step").read_bytes(), (EXAMPLE / "plan.json").read_bytes()
    kept = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {0})  # the server and its children inherit it
    run_check(*inputs, {})
    walls, peaks = [], []
    for _ in range(RUNS):
        begin = time.perf_counter()
        peaks.append(run_check(*inputs, {}).peak_rss)
        walls.append(time.perf_counter() - begin)
    os.sched_setaffinity(0, kept)
    print(f"check, 4-setup example, warm worker, one core: median {statistics.median(walls):.2f} s "
          f"(min {min(walls):.2f}, max {max(walls):.2f}, budget {WARM:.1f}), "
          f"peak {max(peaks) / 1e6:.0f} MB (budget {MEMORY / 1e6:.0f})")  # fmt: skip


def phases() -> None:
    """The parts of a check; recognition, carry and the bare booleans of the same volumes, in one warm process."""
    from bench.phases import measure_phases

    for line in measure_phases(EXAMPLE):
        print(line)


def growth() -> None:
    """Cold checks of plates with more and more workingsteps."""
    from bench import plates

    base = None
    for count in COUNTS:
        with tempfile.TemporaryDirectory() as folder:
            part, plan = Path(folder) / "part.step", Path(folder) / "plan.json"
            part.write_bytes(plates.part(count))
            plan.write_bytes(plates.plan(count))
            wall, _ = cold(part, plan)
        base = base or wall / count
        print(f"check, {count:4d} workingsteps: {wall:6.2f} s, {1000 * wall / count:6.1f} ms a step "
              f"({wall / count / base:.2f} of the rate at {COUNTS[0]})")  # fmt: skip


def main() -> None:
    """Print all figures of this bench."""
    example()
    warm()
    phases()
    growth()


if __name__ == "__main__":
    main()
