"""The fault table: real processes, real kill -9; each job must end exactly once, in a final state.

One service lives through most of it; before each fault it has the processes that the test asks for.
"""

from __future__ import annotations

import json
import random
import shutil
import signal
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

from service.broker.queue import celery_app, publish
from tests.support.service_stack import Stack, eventually


def _accepted(stack: Stack, *orders: str) -> str:
    response = stack.submit(*orders)
    assert response.status_code == 202, response.text
    return str(response.json()["id"])


def _runs(stack: Stack, check: str) -> bool:
    found = stack.state(check)
    return found["state"] == "running" and "progress" in found


def test_killed_worker_costs_its_job_one_more_attempt(stack: Stack) -> None:
    stack.have()
    check = _accepted(stack, "sleep 3")
    eventually(lambda: _runs(stack, check))
    stack.kill("worker-0")
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 2)


def test_job_that_kills_every_worker_fails_and_blocks_nobody(stack: Stack) -> None:
    stack.have(workers=2)
    poison = _accepted(stack, "die")
    others = [_accepted(stack) for _ in range(5)]
    assert {stack.final(check)["state"] for check in others} == {"done"}
    failed = stack.final(poison)
    assert (failed["state"], failed["attempt"]) == ("failed", 2)
    assert failed["problem"]["type"] == "urn:reclamp:problem:worker.lost"
    assert sum(process.poll() is not None for process in stack.processes.values()) == 2


def test_kernel_crash_is_tried_once_more_alone_then_told(stack: Stack) -> None:
    stack.have()
    failed = stack.final(_accepted(stack, "crash"))
    assert (failed["state"], failed["attempt"]) == ("failed", 2)
    assert failed["problem"]["type"] == "urn:reclamp:problem:part.kernel-crash"
    assert all(process.poll() is None for process in stack.processes.values())


def test_stalled_worker_that_wakes_up_changes_nothing(stack: Stack) -> None:
    stack.have()
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
    stack.have(workers=0, alone=False)
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
    stack.have()
    check = _accepted(stack, "sleep 1")
    eventually(lambda: _runs(stack, check))
    stack.kill("broker")
    done = stack.final(check)
    assert (done["state"], done["attempt"]) == ("done", 1)
    stack.start_broker()
    assert stack.final(_accepted(stack))["state"] == "done"


def test_api_restart_forgets_nothing(stack: Stack) -> None:
    stack.have(workers=0, alone=False)
    checks = [_accepted(stack) for _ in range(10)]
    stack.kill("api")
    stack.kill("broker")
    shutil.rmtree(stack.folder / "broker")
    stack.start_broker()
    stack.start_worker("worker-0")
    stack.start_api()
    assert {stack.final(check)["state"] for check in checks} == {"done"}


def test_duplicate_messages_run_a_job_once(stack: Stack) -> None:
    stack.have(workers=2)
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
    stack.have(alone=False)
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
    stack.have(alone=False)
    check = _accepted(stack, "sleep 60")
    eventually(lambda: _runs(stack, check))
    with stack.client() as client:
        assert client.delete(f"/v1/checks/{check}").json()["state"] == "cancelled"
    after = stack.final(_accepted(stack), 10)
    assert after["state"] == "done"
    assert stack.state(check)["state"] == "cancelled"


def test_long_check_holds_up_no_short_one(tmp_path: Path) -> None:
    stack = Stack(tmp_path, RECLAMP_REPUBLISH_AFTER="600")  # the relay must not have to mend it
    try:
        stack.start(workers=2, alone=False)
        long = _accepted(stack, "sleep 30")
        eventually(lambda: _runs(stack, long))
        for check in [_accepted(stack) for _ in range(6)]:
            assert stack.final(check, 15)["state"] == "done"
        assert stack.state(long)["state"] == "running"
    finally:
        stack.stop()


def test_chaos_loses_nothing_and_doubles_nothing(tmp_path: Path) -> None:
    """Sixty checks while workers, broker (with its data) and API are killed in turn; seeded order."""
    stack, chance = Stack(tmp_path), random.Random(7)
    told = Told()
    try:
        stack.start(workers=2)
        with stack.client() as client:
            client.post("/v1/webhooks", json={"url": told.url}).raise_for_status()
        checks = [_accepted(stack, "sleep 0.2") for _ in range(60)]
        for _ in range(8):
            _kill_one(stack, chance.choice(["worker-0", "worker-1", "broker", "api"]))
            time.sleep(0.6)
        ended = [stack.final(check, 90) for check in checks]
        assert {end["state"] for end in ended} <= {"done", "failed"}
        assert all(end["state"] == "done" or end["problem"]["type"].endswith("worker.lost") for end in ended)
        assert sum(end["state"] == "done" for end in ended) >= 55
        eventually(lambda: set(told.checks) == set(checks), 40)
        assert len(told.ids) == len(checks)  # a message may come twice, but never under another id
        assert [stack.state(check)["finished"] for check in checks] == [end["finished"] for end in ended]
    finally:
        stack.stop()
        told.close()


def _kill_one(stack: Stack, name: str) -> None:
    stack.kill(name)
    if name == "broker":
        shutil.rmtree(stack.folder / "broker", ignore_errors=True)
        stack.start_broker()
    elif name == "api":
        stack.start_api()
    else:
        stack.start_worker(name)


class Told:
    """A portal that notes which checks it was told of, and under which message ids."""

    def __init__(self) -> None:
        self.checks: list[str] = []
        self.ids: set[str] = set()
        told = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = json.loads(self.rfile.read(int(self.headers["content-length"])))
                told.checks.append(body["data"]["id"])
                told.ids.add(self.headers["webhook-id"])
                self.send_response(204)
                self.end_headers()

            def log_message(self, *_: Any) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}/told"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


def test_cause_of_an_unforeseen_error_is_not_told_to_the_client(stack: Stack) -> None:
    stack.have(alone=False)
    failed = stack.final(_accepted(stack, "break"))
    assert failed["problem"]["type"] == "urn:reclamp:problem:internal"
    assert "secret words" not in str(failed)
