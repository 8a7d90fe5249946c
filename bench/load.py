"""Load on a real service: submit latency under load, queued jobs, scaling by workers, memory of API and child.

python -m bench.load            with no-op jobs and with jobs that burn processor time
python -m bench.load --real N   N real checks of an example besides, with the memory of the kernel's children
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import httpx

from tests.support.service_stack import PLAN, REPO, Stack, eventually, part

QUIET = {"RECLAMP_LOG_LEVEL": "ERROR", "RECLAMP_LEASE": "15", "RECLAMP_HEARTBEAT": "2", "RECLAMP_RELAY_INTERVAL": "1"}


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--jobs", type=int, default=1000)
    words.add_argument("--real", type=int, default=0)
    words.add_argument(
        "--example", type=Path, default=REPO / "examples" / "sensor_plate", help="folder of the real part"
    )
    options = words.parse_args()
    results: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        results |= queued(Path(folder) / "queued", options.jobs)
        results |= idle(Path(folder) / "idle")
        results |= scaling(Path(folder) / "scaling")
        if options.real:
            results |= real(Path(folder) / "real", options.real, options.example)
    json.dump(results, sys.stdout, indent=2)
    print()


def queued(folder: Path, jobs: int) -> dict[str, Any]:
    """Queue ``jobs`` checks as fast as one client can while two workers are busy with them; all must end."""
    stack = Stack(folder, **QUIET)
    try:
        stack.start(workers=2, alone=False)
        token = stack.new_key("load", max_active=10**6, requests_per_minute=10**6)
        _submit(stack, token, 20, "sleep 0.01")  # warm up
        begun = time.perf_counter()
        times, ids = _submit(stack, token, jobs, "sleep 0.005")
        accepted = time.perf_counter() - begun
        with stack.client(token) as client:
            eventually(partial(_none_left, client), 300, 0.2)
            ended = time.perf_counter() - begun
            states = _states(client)
        return {
            "submit ms p50": round(statistics.median(times) * 1000, 1),
            "submit ms p99": round(statistics.quantiles(times, n=100)[98] * 1000, 1),
            "submitted/s": round(jobs / accepted, 1),
            "ended/s": round(jobs / ended, 1),
            "lost": len(set(ids) - {check for check, state in states.items() if state == "done"}),
            "api rss MB": _rss(stack.processes["api"].pid),
            "worker rss MB": _rss(stack.processes["worker-0"].pid),
        }
    finally:
        stack.stop()


def idle(folder: Path, jobs: int = 40) -> dict[str, Any]:
    """What goes by between two jobs of one worker: no-op jobs wait for it, one after the other."""
    stack = Stack(folder, **QUIET)
    try:
        stack.start(workers=1, alone=False)
        token = stack.new_key("load", max_active=10**6, requests_per_minute=10**6)
        begun = time.perf_counter()
        _submit(stack, token, jobs, "sleep 0.005")
        with stack.client(token) as client:
            eventually(partial(_none_left, client), 300, 0.05)
        return {"one worker, s a no-op job": round((time.perf_counter() - begun) / jobs, 3)}
    finally:
        stack.stop()


def scaling(folder: Path) -> dict[str, Any]:
    """Two workers against one, with jobs of 0.2 s."""
    seconds = {}
    for workers in (1, 2):
        stack = Stack(folder.with_name(f"{folder.name}{workers}"), **QUIET)
        try:
            stack.start(workers=workers, alone=False)
            token = stack.new_key("load", max_active=10**6, requests_per_minute=10**6)
            begun = time.perf_counter()
            _submit(stack, token, 60, "deaf 0.2")
            with stack.client(token) as client:
                eventually(partial(_none_left, client), 300, 0.05)
            seconds[workers] = time.perf_counter() - begun
        finally:
            stack.stop()
    return {"two workers are faster by": round(seconds[1] / seconds[2], 2)}


def real(folder: Path, checks: int, example: Path) -> dict[str, Any]:
    """Real checks one after the other; the peak memory of the kernel's children, early and late."""
    stack = Stack(folder, **QUIET)
    peaks: list[float] = []
    over = threading.Event()
    try:
        stack.start_broker()
        stack.start_api()
        stack.start_real_worker("worker-0")
        watcher = threading.Thread(target=_watch, args=(stack.processes["worker-0"].pid, peaks, over))
        watcher.start()
        files = {name: (example / file).read_bytes() for name, file in (("part", "part.step"), ("plan", "plan.json"))}
        times, half = [], []
        with stack.client(timeout=120) as client:
            for number in range(checks):
                begun = time.perf_counter()
                answer = client.post("/v1/checks", files=files, headers={"Prefer": "wait=60"})
                assert answer.status_code == 200, answer.text
                times.append(time.perf_counter() - begun)
                if number % 20 == 0:
                    print(f"{number} checks, child at most {max(peaks, default=0):.0f} MB so far", file=sys.stderr)
                if number == checks // 2:
                    half.append(max(peaks))
                    peaks.clear()
        over.set()
        watcher.join()
        return {
            "real check s p50": round(statistics.median(times), 2),
            "child rss MB first half": round(half[0]),
            "child rss MB second half": round(max(peaks)),
            "worker rss MB after": _rss(stack.processes["worker-0"].pid),
            "api rss MB after": _rss(stack.processes["api"].pid),
        }
    finally:
        over.set()
        stack.stop()


def _watch(worker: int, peaks: list[float], over: threading.Event) -> None:
    while not over.wait(0.05):
        family, grown = {worker}, True
        while grown:
            more = {pid for pid, parent in _parents() if parent in family} - family
            family, grown = family | more, bool(more)
        peaks.extend(_rss(pid) for pid in family - {worker})


def _parents() -> list[tuple[int, int]]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                found.append((int(entry.name), int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])))
            except OSError:
                continue
    return found


def _submit(stack: Stack, token: str, jobs: int, order: str) -> tuple[list[float], list[str]]:
    """Submit over four connections; seconds and id of each."""
    local, plan = threading.local(), json.dumps(PLAN)

    def one(number: int) -> tuple[float, str]:
        if not hasattr(local, "client"):
            local.client = stack.client(token)
        files = {"part": ("p.step", part(order, f"n {number % 50}")), "plan": ("plan.json", plan)}
        begun = time.perf_counter()
        answer = local.client.post("/v1/checks", files=files)
        seconds = time.perf_counter() - begun
        assert answer.status_code == 202, answer.text
        return seconds, answer.json()["id"]

    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(one, range(jobs)))
    return [seconds for seconds, _ in found], [check for _, check in found]


def _none_left(client: httpx.Client) -> bool:
    return not _left(client)


def _left(client: httpx.Client) -> bool:
    return any(client.get("/v1/checks", params={"state": s, "limit": 1}).json()["items"] for s in ("queued", "running"))


def _states(client: httpx.Client) -> dict[str, str]:
    found: dict[str, str] = {}
    query: dict[str, Any] = {"limit": 200}
    while True:
        page = client.get("/v1/checks", params=query).json()
        found |= {item["id"]: item["state"] for item in page["items"]}
        if "next" not in page:
            return found
        query["cursor"] = page["next"]


def _rss(pid: int) -> float:
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((round(int(line.split()[1]) / 1024, 1) for line in lines if line.startswith("VmRSS")), 0.0)


if __name__ == "__main__":
    main()
