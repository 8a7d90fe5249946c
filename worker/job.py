"""The jobs that run in a killable child; imports nothing of the kernel, so that any process may load it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from schemas.problem import Problem
from worker.bundle import pack, unpack
from worker.cache.results import Answer, Results
from worker.cache.store import Place
from worker.isolate import Child, Limits, Method, Outcome

Progress = Callable[[Mapping[str, Any]], None]
DEFAULT_LIMITS = Limits(wall=600.0, cpu=900.0, memory=4 * 2**30)
"""Of one job, where the caller states none: a part with some thousand faces stays far below."""
PIPELINE, FEATURES = "worker.entry:check", "worker.entry:features"
_FILE, _STAGE, _EXTRA = "file/", "stage/", "extra/"


@dataclass(frozen=True)
class JobResult:
    """A finished check: the report document as JSON bytes, stage files by setup id, further files by name."""

    report: bytes
    stages: Mapping[str, bytes] = field(default_factory=dict)
    extras: Mapping[str, bytes] = field(default_factory=dict)
    peak_rss: int = 0


@dataclass(frozen=True)
class FeaturesResult:
    """A recognised part: the JSON document, the table for people, the picture where one was asked for."""

    document: bytes
    table: str
    picture: bytes = b""


def run_check(
    part: bytes,
    plan: bytes,
    files: Mapping[str, bytes],
    limits: Limits | None = None,
    on_progress: Progress | None = None,
    *,
    extras: Sequence[str] = (),
    method: Method = "forkserver",
    cancelled: Callable[[], bool] | None = None,
    cache: Place | None = None,
) -> JobResult:
    """Check a plan in a child of its own. ``method`` "fork" starts faster, but only from a process without the kernel.

    ``extras`` names further files to make (report.html, setup-sheet.pdf). ``cache`` is where earlier checks left what
    they found out: the same bytes come back sooner.

    Raises Problem for input that cannot be used (also when it kills the kernel), RuntimeError for our own failures.
    """
    named = {_FILE + name: data for name, data in files.items()}
    wanted = {_EXTRA + name: b"" for name in extras}
    payload = pack({"part": part, "plan": plan, **_place(cache), **named, **wanted})

    def compute() -> Answer:
        outcome = _call(PIPELINE, payload, limits, on_progress, method, cancelled)
        if outcome.kind == "failed":
            raise RuntimeError(outcome.detail)
        return unpack(outcome.unwrap("part")), outcome.peak_rss

    if cache is None:
        return _result(*compute())
    results = Results(cache)
    return _result(*results.answer(results.name(part, plan, files, extras), compute))


def _place(cache: Place | None) -> dict[str, bytes]:
    return {"cache": cache.packed()} if cache else {}


def _result(parts: Mapping[str, bytes], peak_rss: int) -> JobResult:
    return JobResult(
        report=parts["report"],
        stages={n.removeprefix(_STAGE): d for n, d in parts.items() if n.startswith(_STAGE)},
        extras={n.removeprefix(_EXTRA): d for n, d in parts.items() if n.startswith(_EXTRA)},
        peak_rss=peak_rss,
    )


def run_features(
    part: bytes,
    unit: str = "mm",
    picture: str | None = None,
    limits: Limits | None = None,
    *,
    method: Method = "forkserver",
    cache: Place | None = None,
) -> FeaturesResult:
    """Recognise a part in a child of its own; raises as ``run_check`` does. ``picture`` is "png" or "svg"."""
    payload = pack({"part": part, "unit": unit.encode(), "picture": (picture or "").encode(), **_place(cache)})
    outcome = _call(FEATURES, payload, limits, None, method, None)
    if outcome.kind == "failed":
        raise RuntimeError(outcome.detail)
    parts = unpack(outcome.unwrap("part"))
    return FeaturesResult(parts["document"], parts["table"].decode(), parts["picture"])


def describe_rules(code: str | None, *, markdown: bool = False, method: Method = "forkserver") -> str:
    """The list of rules, one explained, or the whole reference; raises Problem for an unknown code."""
    words = pack({"code": (code or "").encode(), "markdown": b"1" if markdown else b""})
    outcome = _call("worker.entry:rules", words, None, None, method, None)
    return outcome.unwrap("rules").decode()


def _call(
    target: str,
    payload: bytes,
    limits: Limits | None,
    on_progress: Progress | None,
    method: Method,
    cancelled: Callable[[], bool] | None,
) -> Outcome:
    with Child(limits or DEFAULT_LIMITS, method) as child:
        return child.call(target, payload, on_progress, cancelled)


def unknown_code(code: str, near: Sequence[str]) -> Problem:
    """The Problem of a rule that nobody has."""
    return Problem(
        "rules.unknown",
        "There is no such rule",
        f"There is no rule '{code}'.",
        pointer=code,
        remedy=f"Nearest: {', '.join(near)}." if near else "reclamp rules lists them all.",
    )
