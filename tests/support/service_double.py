"""Stands in for the geometry in tests of the service: does what a comment in the part tells it to.

Run as a module it is a worker process: ``python -m tests.support.service_double QUEUE``.
"""

from __future__ import annotations

import json
import os
import re
import signal
import sys
import time

from schemas.problem import Problem
from service.jobs.pulse import Abandoned, Pulse
from service.jobs.running import Inputs, Results

_ORDER = re.compile(rb"/\* do (\w+) ?([\w.]*) \*/")


class Double:
    """Obeys ``/* do sleep 2 */``, ``die``, ``crash``, ``problem``, ``break``, ``fail``, ``size N`` in the part."""

    def check(self, inputs: Inputs, pulse: Pulse) -> Results:
        plan = json.loads(inputs.plan)
        verdict, size = "pass", 100
        for order, value in _ORDER.findall(inputs.part):
            verdict = "fail" if order == b"fail" else verdict
            size = int(value) if order == b"size" else size
            _obey(order.decode(), value.decode(), pulse)
        counts = {"error": int(verdict == "fail"), "warning": 0, "note": 0}
        stages = {setup["id"]: b"ISO-10303-21;" + b" " * size for setup in plan["setups"]}
        evidence: dict[str, object] = {"rules": [], "versions": {}, "inputs": {}}
        about = {"setups": plan["setups"], "cautions": []}
        report = {"verdict": verdict, "counts": counts, "findings": [], "evidence": evidence}
        return Results(json.dumps({"report_version": 1, "units": "mm", **report, **about}).encode(), stages)

    def features(self, inputs: Inputs, pulse: Pulse) -> bytes:
        for order, value in _ORDER.findall(inputs.part):
            _obey(order.decode(), value.decode(), pulse)
        return json.dumps({"features": []}).encode()


def _obey(order: str, value: str, pulse: Pulse) -> None:
    if order == "sleep":
        _sleep(float(value), pulse)
    if order == "deaf":
        time.sleep(float(value))
    if order == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if order == "crash":
        raise Problem("part.kernel-crash", "The kernel crashed", "The kernel died while it read the part.", status=500)
    if order == "problem":
        raise Problem("part.no-solid", "No solid", "The file holds no solid.", pointer="part")
    if order == "break":
        raise ZeroDivisionError("secret words")


def _sleep(seconds: float, pulse: Pulse) -> None:
    until, steps = time.monotonic() + seconds, 0
    while time.monotonic() < until:
        if pulse.over:
            raise Abandoned
        pulse.progress({"setup": "S1", "phase": "cut", "done": steps, "of": int(seconds * 20)})
        steps += 1
        time.sleep(0.05)


def main() -> None:
    from service.logs import configure
    from service.settings import Settings
    from service.work.consume import consume
    from service.work.tasks import make_app

    settings = Settings()
    configure("INFO")
    app, runner = make_app(settings, Double())
    consume(app, runner, settings, sys.argv[1])


if __name__ == "__main__":
    main()
