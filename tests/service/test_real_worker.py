"""The whole way with the kernel: the product's own worker process, its children, their limits."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.broker.queue import ALONE
from tests.support.service_stack import REPO, Stack, eventually
from worker.job import run_check

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


def _send(stack: Stack, **headers: str) -> httpx.Response:
    files = {name: (EXAMPLE / file).read_bytes() for name, file in (("part", "part.step"), ("plan", "plan.json"))}
    with stack.client(timeout=90) as client:
        return client.post("/v1/checks", files=files, headers=headers)


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
    answer = _send(stack, Prefer="wait=60")
    assert answer.status_code == 200, answer.text
    alone = run_check((EXAMPLE / "part.step").read_bytes(), (EXAMPLE / "plan.json").read_bytes(), {})
    assert answer.content == alone.report
    with stack.client() as client:
        links: dict[str, Any] = client.get(answer.headers["location"]).json()["links"]
        stages = {name: client.get(link).content for name, link in links["stages"].items()}
        kinds = {suffix: client.get(link).headers["content-type"] for suffix, link in links["reports"].items()}
        sheet = client.get(links["setup-sheet"]).content
        again = client.post(
            "/v1/parts", files={"part": (EXAMPLE / "part.step").read_bytes()}, headers={"Prefer": "wait=60"}
        )
    steps = {name: data for name, data in stages.items() if name.endswith(".step")}
    assert steps == {f"{setup}.step": data for setup, data in alone.stages.items()}
    for setup in alone.stages:
        assert stages[f"{setup}.glb"].startswith(b"glTF")
        assert stages[f"{setup}.png"].startswith(b"\x89PNG")
    assert set(kinds) == {"json", "html", "sarif", "xml"}
    assert sheet.startswith(b"%PDF-")
    assert {feature["class"] for feature in again.json()["features"]} >= {"round_hole"}


def test_killed_kernel_child_is_seen_and_its_job_done_alone(stack: Stack) -> None:
    stack.start_real_worker("worker-0")
    check = _send(stack).json()["id"]
    child = eventually(lambda: stack.state(check).get("progress") and _kernel_children(stack, "worker-0"), pause=0.01)
    os.kill(child[-1], signal.SIGSEGV)
    stack.start_real_worker("alone", ALONE)
    done = stack.final(check, 60)
    assert (done["state"], done["attempt"]) == ("done", 2)
    assert stack.processes["worker-0"].poll() is None


def test_killed_worker_leaves_no_child_behind(stack: Stack) -> None:
    stack.start_real_worker("worker-0")
    check = _send(stack).json()["id"]
    eventually(lambda: stack.state(check).get("progress"), pause=0.01)
    tree = _descendants(stack.processes["worker-0"].pid)
    stack.kill("worker-0")
    eventually(lambda: not any(Path(f"/proc/{pid}").exists() for pid in tree), 10)
    stack.start_real_worker("alone", ALONE)
    assert stack.final(check, 60)["state"] == "done"


@pytest.mark.parametrize(
    ("name", "value", "kind"),
    [("TIME_LIMIT", "0.3", "part.time-limit"), ("MEMORY_LIMIT_MB", "60", "part.memory-limit")],
)
def test_limits_end_a_check_and_the_worker_goes_on(stack: Stack, name: str, value: str, kind: str) -> None:
    stack.env[f"RECLAMP_{name}"] = value
    stack.start_real_worker("worker-0")
    for _ in range(2):
        answer = _send(stack, Prefer="wait=60")
        assert (answer.status_code, answer.json()["type"]) == (422, f"urn:reclamp:problem:{kind}")
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
