"""Parts with the features that were put in: ``NAME.step`` beside ``NAME.features.json``, and how they are scored.

Every feature must be found once, with nothing beside it, and the same features one for one however the part is written.
"""

from __future__ import annotations

import json
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from bench.crossed import Crossed, Wanted, altered, judged
from bench.rewrites import MOVED, UPRIGHT
from worker.kernel.shape import Body
from worker.kernel.stepio import read_part, write_step
from worker.recognise import recognise

TRUTH = ".features.json"


def written_crossed(part: Crossed, folder: Path) -> None:
    """The part and its truth."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{part.name}.step").write_bytes(write_step(part.body, name=part.name))
    (folder / f"{part.name}{TRUTH}").write_text(json.dumps([asdict(w) for w in part.wanted], indent=1))


def truth_of(step: Path) -> tuple[Wanted, ...]:
    """What a file says was put in."""
    told = json.loads((step.parent / f"{step.stem}{TRUTH}").read_text())
    return tuple(Wanted(**{**w, "way": tuple(w["way"])}) for w in told)


def run_truths(folder: Path, seed: int, limit: int | None) -> int:
    """Judge a folder, each part as it is and written in all ways; the number of parts and ways with a fault."""
    wrong: Counter[str] = Counter()
    seconds: list[float] = []
    steps = [s for s in sorted(folder.glob("*.step")) if (folder / f"{s.stem}{TRUTH}").exists()][:limit]
    for number, step in enumerate(steps):
        for way, faults, took in judged_all_ways(read_part(step.read_bytes()).body, truth_of(step), seed + number):
            seconds.append(took)
            if faults:
                wrong[way] += 1
                print(f"{step.stem}, {way}:", *faults, sep="\n    ")
    ways = ", ".join(f"{way} {count}" for way, count in sorted(wrong.items())) or "none"
    print(
        f"{len(steps)} parts, {len(seconds)} times read; with a fault: {ways}; slowest {max(seconds, default=0):.2f} s"
    )
    return wrong.total()


def judged_all_ways(body: Body, wanted: tuple[Wanted, ...], seed: int) -> Iterator[tuple[str, list[str], float]]:
    """For the part as it is, and for each way to write it: its name, the faults, seconds of processor time."""
    start = time.process_time()
    before = recognise(body)
    yield "as shipped", judged(wanted, before), time.process_time() - start
    for way, rewrite in {**UPRIGHT, **MOVED}.items():
        try:
            other = rewrite(body, seed)
            start = time.process_time()
            after = recognise(other)
            took = time.process_time() - start
            faults = judged(wanted, after, way in UPRIGHT) + altered(before, after)
        except Exception as error:
            faults, took = [f"{type(error).__name__}: {error}"], 0.0
        yield way, faults, took
