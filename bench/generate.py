"""Parts with face labels known from how they were made: milled blocks like those of the open set the bench scores.

``python -m bench.generate DIR --count N [--seed S] [--kind KIND]`` writes ``NAME.step`` and ``NAME.labels.json`` in
that set's form. Kinds: ``alike``, as the set itself (cubes, four or five features in the order of their labels, only
passages and chamfers meet); ``wide``, blocks of any proportions with up to a dozen features; ``mixed``, where any
feature may cut into any other. A face is labelled by the cutter that it comes from. Where all metal that tells a
feature's class is gone again, no answer is right: such parts are drawn anew.
"""

from __future__ import annotations

import argparse
import json
import random
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from bench.crossed_parts import crossed
from bench.milled_shapes import SHAPES, Cutter, Sheet, Size, apart, face_frame
from bench.truths import written_crossed
from worker.kernel.boolean import cut_traced
from worker.kernel.errors import KernelError
from worker.kernel.primitives import box
from worker.kernel.shape import Body, solids
from worker.kernel.stepio import write_step

Kind = Literal["alike", "wide", "mixed"]
STOCK = 15
TRIES = 30
PASSAGES = (1, 2, 3)
THIN = 0.02
"""Metal between two features at least (share of the block's least edge / 10); two of 400 parts have less."""


@dataclass(frozen=True, eq=False)
class Milled:
    """A made part: its labels, one a face in kernel order, and the cutter of each face (-1: the block's own)."""

    name: str
    body: Body
    labels: tuple[int, ...]
    cutter: tuple[int, ...]
    cutters: tuple[Cutter, ...]


def milled(seed: int, kind: Kind = "alike") -> Milled:
    """The part of a seed; the same one each time."""
    dice = random.Random(f"{kind} {seed}")
    while True:
        size = _block(dice, kind)
        wanted = _wanted(dice, kind)
        cutters = _placed(dice, size, wanted, kind)
        found = _made(size, cutters)
        if found is not None and (kind != "mixed" or _tells(found)):
            labels = "-".join(str(c.label) for c in cutters)
            return Milled(f"{kind}-{seed}-{labels}", found.body, found.labels, found.cutter, cutters)


def _block(dice: random.Random, kind: Kind) -> Size:
    if kind == "alike":
        return (10.0, 10.0, 10.0)
    least = dice.uniform(8.0, 60.0)
    return (least, least * dice.uniform(1.0, 2.0), least * dice.uniform(1.0, 4.0))


def _wanted(dice: random.Random, kind: Kind) -> list[int]:
    count = dice.choice((4, 5, 5, 5)) if kind == "alike" else dice.randint(1, 12)
    labels = [dice.randrange(STOCK) for _ in range(count)]
    return labels if kind == "mixed" else sorted(labels)


def _placed(dice: random.Random, size: Size, wanted: Sequence[int], kind: Kind) -> tuple[Cutter, ...]:
    """A cutter for each label that finds room."""
    found: list[Cutter] = []
    for label in wanted:
        for _ in range(TRIES):
            cutter = SHAPES[label](_sheet(dice, size, kind))
            if _fits(cutter, found, kind, THIN * min(size) / 10):
                found.append(cutter)
                break
    return tuple(found)


def _sheet(dice: random.Random, size: Size, kind: Kind) -> Sheet:
    frame, local = face_frame(size, dice.randrange(3), dice.random() < 0.5, dice.random() < 0.5)
    share = 1.0 if kind == "alike" else dice.uniform(0.6, 1.4)
    unit = min(size) / 10
    return Sheet(frame, local, 2.0 * share * unit, share * unit, dice, 0.5 if kind == "alike" else 0.2)


def _fits(cutter: Cutter, others: Sequence[Cutter], kind: Kind, thin: float) -> bool:
    for other in others:
        if apart(cutter, other, thin):
            continue
        if kind == "mixed":
            if _alike(cutter, other):
                return False
        elif not _may_meet(cutter, other, thin):
            return False
    return True


def _alike(a: Cutter, b: Cutter) -> bool:
    """Two cutters from one side that meet make one recess of another shape."""
    return sum(x * y for x, y in zip(a.entry, b.entry, strict=True)) > 0.5


def _may_meet(cutter: Cutter, other: Cutter, thin: float) -> bool:
    """Passages run through each other and out through chamfers; chamfers meet at corners."""
    if cutter.label == 0 or other.label == 0:
        if cutter.label == other.label:
            return abs(sum(x * y for x, y in zip(cutter.frame.z, other.frame.z, strict=True))) < 0.5
        return cutter.label in PASSAGES and apart(cutter, other, thin, cutter.mouth())
    crossing = abs(sum(x * y for x, y in zip(cutter.entry, other.entry, strict=True))) < 0.5
    return crossing and cutter.label in PASSAGES and other.label in PASSAGES


@dataclass(frozen=True, eq=False)
class _Made:
    body: Body
    labels: tuple[int, ...]
    cutter: tuple[int, ...]
    cutters: tuple[Cutter, ...]


def _made(size: Size, cutters: tuple[Cutter, ...]) -> _Made | None:
    """The block after all cutters; None when the kernel fails, metal falls apart or a cutter leaves no face."""
    try:
        done = cut_traced(box((0.0, 0.0, 0.0), size), [c.body() for c in cutters], merge=False)
    except KernelError:
        return None
    if len(solids(done.body)) != 1 or any(o is None for o in done.origin):
        return None
    origins = [o[0] - 1 for o in done.origin if o is not None]
    labels = tuple(STOCK if o < 0 else cutters[o].label for o in origins)
    return _Made(done.body, labels, tuple(origins), cutters)


def _tells(made: _Made) -> bool:
    """True when every cutter still has a face of each of its walls and its floor."""
    left = Counter(made.cutter)
    return all(left[i] >= LEAST[c.label] for i, c in enumerate(made.cutters))


LEAST = (1, 3, 4, 6, 2, 3, 2, 3, 2, 4, 5, 7, 4, 2, 3)
"""Faces of each class of feature when nothing else cuts it, by label."""


def numbered(step: bytes) -> bytes:
    """The file with each face named by its place."""
    count = iter(range(len(step)))
    text = re.sub(r"ADVANCED_FACE\s*\(\s*'[^']*'", lambda _: f"ADVANCED_FACE('{next(count)}'", step.decode("ascii"))
    return text.encode("ascii")


def written(part: Milled, folder: Path) -> None:
    """The part and its labels in the set's form."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{part.name}.step").write_bytes(numbered(write_step(part.body, name=part.name)))
    (folder / f"{part.name}.labels.json").write_text(json.dumps(list(part.labels)))


def main() -> None:
    """Write the parts asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--kind", choices=("alike", "wide", "mixed", "crossed"), default="alike")
    options = parser.parse_args()
    for number in range(options.count):
        seed = options.seed + number
        if options.kind == "crossed":
            written_crossed(crossed(seed), options.folder)
        else:
            written(milled(seed, options.kind), options.folder)
    print(f"{options.count} parts, {sum(1 for _ in options.folder.glob('*.step'))} in the folder")


if __name__ == "__main__":
    main()
