"""The whole way with the kernel: the product's own worker process, its children, their limits."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.broker.queue import ALONE
from tests.support.service_stack import PLAN, REPO, Stack, eventually
from worker.job import run_check

PATIENCE = 180.0
EXAMPLE = REPO / "examples" / "sensor_plate"


@pytest.fixture
def stack(tmp_path: Path) -> Iterator[Stack]:
    stack = Stack(tmp_path)
    try:
        stack.start_broker()
        stack.start_api()
        yield stack
    finally:
        stack.stop()


def _send(stack: Stack) -> httpx.Response:
    files = {name: (EXAMPLE / file).read_bytes() for name, file in (("part", "part.step"), ("plan", "plan.json"))}
    with stack.client(timeout=90) as client:
        return client.post("/v1/checks", files=files)


def _block() -> bytes:
    """A cube of 10 mm, made in another process: this one must not have used the kernel when it forks."""
    words = "from worker.kernel.primitives import box; from worker.kernel.stepio import write_step; import sys; "
    words += "sys.stdout.buffer.write(write_step(box((0, 0, 0), (10, 10, 10))))"
    return subprocess.run([sys.executable, "-c", words], check=True, capture_output=True, cwd=REPO).stdout


def _descendants(pid: int) -> list[int]:
    """All processes below ``pid``, from /proc."""
    parents: dict[int, int] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parents[int(entry.name)] = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
            except OSError:
                continue
    below, grew = {pid}, True
    while grew:
        more = {child for child, parent in parents.items() if parent in below} - below
        below, grew = below | more, bool(more)
    return sorted(below - {pid})


def _kernel_children(stack: Stack, worker: str) -> list[int]:
    """Children of the fork server that have the kernel's libraries in memory and are at work."""
    tree = _descendants(stack.processes[worker].pid)
    return [pid for pid in tree if set(_parent_chain(pid)) & set(tree)]


def _parent_chain(pid: int) -> list[int]:
    try:
        return [int(Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[1])]
    except OSError:
        return []


def test_report_is_the_same_as_without_a_service(stack: Stack) -> None:
    stack.start_real_worker("worker-0")
    part, plan = _block(), json.dumps(PLAN).encode()
    with stack.client(timeout=90) as client:
        check = client.post("/v1/checks", files={"part": part, "plan": plan}).json()["id"]
        features = client.post("/v1/parts", files={"part": part}).headers["location"]
        done = stack.final(check, PATIENCE)
        assert done["state"] == "done", done
        links: dict[str, Any] = done["links"]
        alone = run_check(part, plan, {})
        assert client.get(links["report"]).content == alone.report
        stages = {name: client.get(link).content for name, link in links["stages"].items()}
        kinds = {suffix: client.get(link).headers["content-type"] for suffix, link in links["reports"].items()}
        assert client.get(links["setup-sheet"]).content.startswith(b"%PDF-")
        eventually(lambda: client.get(features).json()["state"] == "done", PATIENCE)
        found = client.get(f"{features}/features").json()["features"]
    assert stages["S1.step"] == alone.stages["S1"]
    assert stages["S1.glb"].startswith(b"glTF")
    assert stages["S1.png"].startswith(b"\x89PNG")
    assert set(kinds) == {"json", "html", "sarif", "xml"}
    assert sum(feature["class"] == "planar_face" for feature in found) == 6  # a cube's


def test_killed_kernel_child_is_seen_and_its_job_done_alone(stack: Stack) -> None:
    stack.start_real_worker("worker-0")
    check = _send(stack).json()["id"]
    child = eventually(lambda: stack.state(check).get("progress") and _kernel_children(stack, "worker-0"), 60, 0.01)
    os.kill(child[-1], signal.SIGSEGV)
    stack.start_worker("alone", ALONE)  # the double takes it up again: it is only the taking up that counts here
    done = stack.final(check, PATIENCE)
    assert (done["state"], done["attempt"]) == ("done", 2)
    assert stack.processes["worker-0"].poll() is None


def test_killed_worker_leaves_no_child_behind(stack: Stack) -> None:
    stack.start_real_worker("worker-0")
    check = _send(stack).json()["id"]
    eventually(lambda: stack.state(check).get("progress"), 60, 0.01)
    tree = _descendants(stack.processes["worker-0"].pid)
    stack.kill("worker-0")
    eventually(lambda: not any(Path(f"/proc/{pid}").exists() for pid in tree), 10)
    stack.start_worker("alone", ALONE)  # the double takes it up again: it is only the taking up that counts here
    assert stack.final(check, PATIENCE)["state"] == "done"


@pytest.mark.parametrize(
    ("name", "value", "kind"),
    [("TIME_LIMIT", "0.3", "part.time-limit"), ("MEMORY_LIMIT_MB", "60", "part.memory-limit")],
)
def test_limits_end_a_check_and_the_worker_goes_on(stack: Stack, name: str, value: str, kind: str) -> None:
    stack.env[f"RECLAMP_{name}"] = value
    stack.start_real_worker("worker-0")
    for check in [_send(stack).json()["id"] for _ in range(2)]:
        failed = stack.final(check, PATIENCE)
        assert (failed["state"], failed["attempt"]) == ("failed", 1)
        assert failed["problem"]["type"] == f"urn:reclamp:problem:{kind}"
    assert stack.processes["worker-0"].poll() is None


def test_cancelled_check_ends_its_kernel_child(stack: Stack) -> None:
    stack.start_real_worker("worker-0")
    check = _send(stack).json()["id"]
    children = eventually(
        lambda: stack.state(check).get("progress") and _kernel_children(stack, "worker-0"), pause=0.01
    )
    with stack.client() as client:
        client.delete(f"/v1/checks/{check}")
    eventually(lambda: not any(Path(f"/proc/{pid}").exists() for pid in children), 5)
    assert stack.state(check)["state"] == "cancelled"
