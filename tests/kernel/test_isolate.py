"""The killable child: every way a job can end comes back as a typed outcome, and the caller lives on."""

import os
import time

import pytest

from schemas.problem import Problem
from worker.isolate import Child, Limits, as_problem, run_isolated

JOBS = "tests.support.isolated_jobs:"
METHODS = ("fork", "forkserver")


def run(name, payload=b"", method="fork", **limits):
    return run_isolated(JOBS + name, payload, Limits(**limits), method=method)


@pytest.mark.parametrize("method", METHODS)
def test_result_and_progress_come_back_in_order(method):
    seen = []
    outcome = run_isolated(JOBS + "echo", b"abc", on_progress=seen.append, method=method)
    assert (outcome.kind, outcome.value) == ("ok", b"cba")
    assert [m["step"] for m in seen] == ["begun", "done"]
    assert outcome.unwrap() == b"cba"


def test_a_job_has_one_core_to_itself_and_no_other_thread():
    """Sums then come out alike whatever the machine; the count is the operating system's (proc(5))."""
    assert run("threads", method="forkserver").value == b"1"


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("name", ["segfault", "abort", "leave"])
def test_a_crash_is_an_outcome_within_a_second(method, name):
    run("echo", method=method)  # the server is up
    started = time.monotonic()
    outcome = run(name, method=method)
    assert outcome.kind == "crashed"
    assert time.monotonic() - started < 2.0
    with pytest.raises(Problem) as caught:
        outcome.unwrap("valve.step")
    assert (caught.value.type, caught.value.pointer) == ("part.kernel-crash", "valve.step")


@pytest.mark.parametrize("method", METHODS)
def test_an_endless_loop_is_killed_at_the_wall_limit(method):
    run("echo", method=method)
    started = time.monotonic()
    outcome = run("spin", method=method, wall=0.4)
    assert outcome.kind == "time-limit"
    assert 0.4 <= time.monotonic() - started < 2.0


def test_the_processor_limit_ends_a_loop_that_no_caller_watches():
    outcome = run("spin", cpu=1.0, wall=20.0)
    assert outcome.kind == "time-limit"
    assert "1 s" in outcome.detail


def test_waiting_is_not_processor_time_but_wall_time():
    assert run("sleep", wall=0.3).kind == "time-limit"


@pytest.mark.parametrize("method", METHODS)
def test_memory_breach(method):
    outcome = run("bloat", method=method, memory=500 * 2**20, wall=30.0)
    assert outcome.kind == "memory-limit"
    assert as_problem(outcome.kind, outcome.detail, "x").type == "part.memory-limit"


def test_a_problem_crosses_the_border_whole():
    outcome = run("refuse")
    assert outcome.kind == "problem"
    with pytest.raises(Problem) as caught:
        outcome.unwrap()
    assert (caught.value.type, caught.value.pointer, caught.value.remedy) == ("part.no-solid", "bar.step", "Add one.")


def test_any_other_exception_is_said_in_one_line():
    outcome = run("stumble")
    assert (outcome.kind, outcome.detail) == ("failed", "ValueError: seven")


def test_what_the_kernel_prints_does_not_reach_the_callers_output(capfd):
    assert run("chatter").value == b"quiet"
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")


def test_large_payloads_and_results_do_not_block():
    payload = bytes(4 * 2**20)
    assert len(run("large", payload).value) == 32 * 2**20


def test_cancelling_kills_the_child():
    outcome = run_isolated(JOBS + "spin", b"", method="fork", cancelled=lambda: True)
    assert outcome.kind == "cancelled"


def test_a_child_started_early_serves_one_job_and_is_gone():
    with Child(Limits(), "fork", preload=("worker.kernel.boolean",)) as child:
        outcome = child.call(JOBS + "cut_boxes", b"")
        pid = child._process.pid
    # 10^3 less a 6 x 6 pocket 8 deep
    assert float(outcome.value) == pytest.approx(1000 - 6 * 6 * 8, rel=1e-9)
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_the_fork_servers_children_run_the_kernel_one_after_the_other():
    values = [run("cut_boxes", method="forkserver").value for _ in range(3)]
    assert values == [b"712.000000"] * 3
