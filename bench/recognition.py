"""Recognition against a folder of STEP files with face labels, and against itself after re-encoding.

``python -m bench.recognition DIR [--seed N] [--limit N]`` reads every ``NAME.step`` with its ``NAME.labels.json`` (a
list of label numbers; a face's place in it is the number in its ``ADVANCED_FACE`` name) and prints face accuracy,
precision and recall per label, time per part and the worst parts: as shipped, and again turned, split and written as
NURBS. A folder with ``NAME.features.json`` is judged by those (``bench.truths``). Without DIR it prints how time grows
with the number of faces (``bench.growth``).

The labels are those of an open data set of milled cubes; ``bench.labels`` says which of them a feature of the product
is.
"""

from __future__ import annotations

import argparse
import json
import re
import statistics
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bench.growth import SIZES, curve
from bench.growth_shapes import GROWTH
from bench.labels import LABELS, label_faces
from bench.reencode import reencoded
from bench.truths import TRUTH, run_truths
from worker.kernel.graph import face_graph
from worker.kernel.shape import Body
from worker.kernel.stepio import read_part
from worker.recognise.assemble import features_of
from worker.recognise.patches import part_shape


@dataclass(frozen=True)
class Score:
    """One part's result: labels wanted and found per face, seconds, and the recognised features."""

    name: str
    wanted: tuple[int, ...]
    found: tuple[int, ...]
    seconds: float
    features: tuple[tuple[str, tuple[int, ...]], ...]

    @property
    def wrong(self) -> int:
        return sum(a != b for a, b in zip(self.wanted, self.found, strict=True))


def score(name: str, body: Body, wanted: Sequence[int]) -> Score:
    """Recognise one part and compare its faces."""
    start = time.process_time()
    graph = face_graph(body)
    shape = part_shape(graph)
    features = features_of(shape)
    seconds = time.process_time() - start
    found = label_faces(features, shape)
    listed = tuple(sorted((f.class_, f.faces) for f in features))
    return Score(name, tuple(wanted), found, seconds, listed)


def face_labels(step: Path) -> tuple[int, ...]:
    """The labels of a file's faces, in the order of the file."""
    labels = json.loads(step.with_suffix(".labels.json").read_text())
    names = re.findall(r"ADVANCED_FACE\s*\(\s*'(\d+)'", step.read_text())
    return tuple(labels[int(n)] for n in names)


def run(folder: Path, seed: int, limit: int | None) -> int:
    """Score a folder twice; the number of parts that failed."""
    plain: list[Score] = []
    again: list[Score] = []
    failed: list[str] = []
    same = 0
    changed: list[str] = []
    for number, step in enumerate(sorted(folder.glob("*.step"))[:limit]):
        try:
            body = read_part(step.read_bytes()).body
            wanted = face_labels(step)
            plain.append(score(step.stem, body, wanted))
            other, origin = reencoded(body, seed + number)
            again.append(score(step.stem, other, [wanted[o] for o in origin]))
            if _same(plain[-1], again[-1], origin):
                same += 1
            else:
                changed.append(step.stem)
        except Exception as error:
            failed.append(f"{step.stem}: {type(error).__name__}: {error}")
    report("as shipped", plain)
    report("turned, split, as NURBS", again)
    print(f"features one for one after re-encoding: {same} of {len(again)} parts; not: {', '.join(changed[:12])}")
    for line in failed:
        print("failed:", line)
    return len(failed)


def _same(a: Score, b: Score, origin: Sequence[int]) -> bool:
    back = sorted((c, tuple(sorted({origin[i] for i in f}))) for c, f in b.features)
    return list(a.features) == back


def report(title: str, scores: list[Score]) -> None:
    """Print the figures of one run."""
    pairs = Counter((w, f) for s in scores for w, f in zip(s.wanted, s.found, strict=True))
    total, right = sum(pairs.values()), sum(n for (w, f), n in pairs.items() if w == f)
    print(f"\n{title}: {len(scores)} parts, {total} faces, accuracy {100 * right / max(total, 1):.3f} %")
    print(f"{'label':28s}{'faces':>7s}{'precision':>11s}{'recall':>9s}")
    for label, name in enumerate(LABELS):
        hit = pairs[(label, label)]
        given = sum(n for (_, f), n in pairs.items() if f == label)
        true = sum(n for (w, _), n in pairs.items() if w == label)
        if true or given:
            print(f"{name:28s}{true:7d}{hit / given if given else 0:11.4f}{hit / true if true else 0:9.4f}")
    times = sorted(s.seconds for s in scores)
    if times:
        print(f"time a part: median {1e3 * statistics.median(times):.1f} ms, slowest {1e3 * times[-1]:.1f} ms")
    for s in sorted(scores, key=lambda s: (-s.wrong, s.name))[:8]:
        if s.wrong:
            pairs_ = Counter((w, f) for w, f in zip(s.wanted, s.found, strict=True) if w != f)
            print(f"  {s.name}: {s.wrong} of {len(s.wanted)} faces wrong (label, found): {dict(pairs_)}")


def main() -> None:
    """Score the given folder, or print the curve."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=int)
    options = parser.parse_args() if Path(sys.argv[0]).stem == "recognition" else parser.parse_args([])
    if options.folder is None:
        curve(GROWTH, SIZES[:4])
    elif any(options.folder.glob(f"*{TRUTH}")):
        sys.exit(run_truths(options.folder, options.seed, options.limit) > 0)
    elif run(options.folder, options.seed, options.limit):
        sys.exit(1)


if __name__ == "__main__":
    main()
