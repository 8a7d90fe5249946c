"""Runs a batch: so many at once, in any order; results in the order of the pairs."""

from __future__ import annotations

import hashlib
import sys
import threading
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass, replace
from pathlib import Path

from tqdm import tqdm

from schemas.problem import Problem
from service.batch.client import Client
from service.batch.pairs import Pair, load
from service.batch.results import Journal, Row, of_failure, of_problem


@dataclass(frozen=True, slots=True)
class Plan:
    """How to run: where to, how many at once, how long to be patient with each (s), where results go."""

    url: str
    key: str | None
    at_once: int
    patience: float
    out: Path


def run_batch(plan: Plan, pairs: Sequence[Pair], *, show: bool) -> list[Row]:
    """Check all pairs; those that an earlier run ended are not sent again. Raises KeyboardInterrupt."""
    (plan.out / "reports").mkdir(parents=True, exist_ok=True)
    journal, stop, lock = Journal(plan.out / "journal.jsonl"), threading.Event(), threading.Lock()
    client = Client(plan.url, plan.key, plan.patience, stop)
    rows: dict[int, Row] = {}
    pool = ThreadPoolExecutor(plan.at_once)
    try:
        waiting: dict[Future[Row], int] = {
            pool.submit(_one, client, journal, lock, plan.out, pair): index for index, pair in enumerate(pairs)
        }
        with tqdm(total=len(pairs), unit="check", disable=not show, file=sys.stderr) as bar:
            for future in as_completed(waiting):
                rows[waiting[future]] = future.result()
                bar.update()
    except KeyboardInterrupt:
        stop.set()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
        client.close()
    return [rows[index] for index in range(len(pairs))]


def _one(client: Client, journal: Journal, lock: threading.Lock, out: Path, pair: Pair) -> Row:
    try:
        loaded = load(pair)
    except Problem as problem:
        return of_problem(pair.name, problem.document(), problem.status)
    key = loaded.key()
    if key in journal.known:
        return replace(journal.known[key], name=pair.name)
    row, report = client.check(pair.name, loaded)
    if report is not None and not _written(out / "reports" / report_name(pair.name), report):
        return of_failure(pair.name, "the report cannot be written")
    with lock:
        journal.add(key, row)
    return row


def _written(path: Path, report: bytes) -> bool:
    try:
        path.write_bytes(report)
    except OSError:
        return False
    return True


def report_name(name: str) -> str:
    """A file name for a pair's report: its own letters, and a few of its hash, so that no two fall together."""
    plain = "".join(c if c.isalnum() or c in "-_." else "_" for c in name)[-80:]
    return f"{plain}-{hashlib.sha256(name.encode()).hexdigest()[:8]}.json"
