"""The fault table: real processes, real kill -9; each job must end exactly once, in a final state."""

from __future__ import annotations

import shutil
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.broker.queue import celery_app, publish
from tests.support.service_stack import Stack, eventually


@pytest.fixture
def stack(tmp_path: Path) -> Iterator[Stack]:
    stack = Stack(tmp_path)
    try:
        yield stack
    finally:
        stack.stop()


def _accepted(stack: Stack, *orders: str) -> str:
    response = stack.submit(*orders)
    assert response.status_code == 202, response.text
    return str(response.json()["id"])


def _runs(stack: Stack, check: str) -> bool:
    found = stack.state(check)
    return found["state"] == "running" and "progress" in found


def test_killed_worker_costs_its_job_one_more_attempt(stack: Stack) -> None:
    stack.start()
    check = _accepted(stack, "sleep 3")
    eventually(lambda: _runs(stack, check))
    stack.kill("worker-0")
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 2)


def test_job_that_kills_every_worker_fails_and_blocks_nobody(stack: Stack) -> None:
    stack.start(workers=2)
    poison = _accepted(stack, "die")
    others = [_accepted(stack) for _ in range(5)]
    assert {stack.final(check)["state"] for check in others} == {"done"}
    failed = stack.final(poison)
    assert (failed["state"], failed["attempt"]) == ("failed", 2)
    assert failed["problem"]["type"] == "urn:reclamp:problem:worker.lost"
    assert sum(process.poll() is not None for process in stack.processes.values()) == 2


def test_kernel_crash_is_tried_once_more_alone_then_told(stack: Stack) -> None:
    stack.start()
    failed = stack.final(_accepted(stack, "crash"))
    assert (failed["state"], failed["attempt"]) == ("failed", 2)
    assert failed["problem"]["type"] == "urn:reclamp:problem:part.kernel-crash"
    assert all(process.poll() is None for process in stack.processes.values())


def test_stalled_worker_that_wakes_up_changes_nothing(stack: Stack) -> None:
    stack.start()
    check = _accepted(stack, "sleep 1.5", "size 7")
    eventually(lambda: _runs(stack, check))
    stalled = stack.processes["worker-0"]
    stalled.send_signal(signal.SIGSTOP)
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 2)
    stalled.send_signal(signal.SIGCONT)
    after = _accepted(stack)
    assert stack.final(after)["state"] == "done"
    again = stack.state(check)
    assert (again["attempt"], again["finished"]) == (2, done["finished"])
    with stack.client() as client:
        assert client.get(again["links"]["stages"]["S1.step"]).status_code == 200


@pytest.mark.parametrize("keep_data", [True, False])
def test_killed_broker_loses_nothing(stack: Stack, keep_data: bool) -> None:
    stack.start_broker()
    stack.start_api()
    before = [_accepted(stack) for _ in range(10)]
    stack.kill("broker")
    while_away = [_accepted(stack) for _ in range(5)]
    with stack.client() as client:
        assert client.get("/readyz").json()["parts"]["broker"] == "away"
    if not keep_data:
        shutil.rmtree(stack.folder / "broker")
    stack.start_broker()
    stack.start_worker("worker-0")
    ended = [stack.final(check) for check in before + while_away]
    assert {(end["state"], end["attempt"]) for end in ended} == {("done", 1)}


def test_broker_killed_while_a_job_runs_loses_no_work(stack: Stack) -> None:
    stack.start()
    check = _accepted(stack, "sleep 1")
    eventually(lambda: _runs(stack, check))
    stack.kill("broker")
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 1)
    stack.start_broker()
    assert stack.final(_accepted(stack))["state"] == "done"


def test_api_restart_forgets_nothing(stack: Stack) -> None:
    stack.start_broker()
    stack.start_api()
    checks = [_accepted(stack) for _ in range(10)]
    stack.kill("api")
    stack.kill("broker")
    shutil.rmtree(stack.folder / "broker")
    stack.start_broker()
    stack.start_worker("worker-0")
    stack.start_api()
    assert {stack.final(check)["state"] for check in checks} == {"done"}


def test_duplicate_messages_run_a_job_once(stack: Stack) -> None:
    stack.start(workers=2)
    check = _accepted(stack, "sleep 0.5")
    app = celery_app(stack.settings.broker())
    for _ in range(20):
        publish(app, check, alone=False)
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 1)
    for _ in range(5):
        publish(app, check, alone=True)
    last = stack.final(_accepted(stack))
    assert last["state"] == "done"
    assert stack.state(check)["attempt"] == 1


def test_worker_told_to_end_hands_its_job_back(stack: Stack) -> None:
    stack.start(alone=False)
    check = _accepted(stack, "sleep 2")
    eventually(lambda: _runs(stack, check))
    begun = time.monotonic()
    stack.processes["worker-0"].terminate()
    stack.processes["worker-0"].wait(10)
    assert time.monotonic() - begun < 5
    assert stack.state(check)["state"] == "queued"
    stack.start_worker("worker-1")
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 2)


def test_cancelled_while_running_frees_the_worker(stack: Stack) -> None:
    stack.start(alone=False)
    check = _accepted(stack, "sleep 60")
    eventually(lambda: _runs(stack, check))
    with stack.client() as client:
        assert client.delete(f"/v1/checks/{check}").json()["state"] == "cancelled"
    after = stack.final(_accepted(stack), 10)
    assert after["state"] == "done"
    assert stack.state(check)["state"] == "cancelled"


def test_cause_of_an_unforeseen_error_is_not_told_to_the_client(stack: Stack) -> None:
    stack.start(alone=False)
    failed = stack.final(_accepted(stack, "break"))
    assert failed["problem"]["type"] == "urn:reclamp:problem:internal"
    assert "secret words" not in str(failed)
