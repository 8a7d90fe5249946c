"""The rooms that a check goes through, each asked by all that its answer depends on, and by nothing else.

A setup is known by the part, its own text, its tools, the features it cuts, the files it names and the exact content of
the stock that it starts from: a change in an earlier setup that leaves that stock as it was leaves this one as it was.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Literal

from schemas.plan import Setup
from worker.cache.codec import encoded
from worker.cache.kept import Kept, digest
from worker.facts import Finish, Keep, Probes, Taken, finish_of
from worker.field import Carried, Ground, second_opinion
from worker.field.opinion import Opinion
from worker.inputs import Inputs, read_part
from worker.kernel.shape import Body
from worker.kernel.stepio import StepFile, write_step
from worker.part import Part
from worker.reach import Reach, reach_of
from worker.stage import make_stage
from worker.stage.model import ResolvedStep, Stage
from worker.stage.standing import Standing


class Rooms:
    """The rooms of one check. ``kept`` gives what is known; what is asked of one setup is kept by its id."""

    def __init__(self, kept: Kept) -> None:
        self._kept = kept
        self._keys: dict[str, str] = {}

    def part(self, data: bytes) -> tuple[Part, StepFile]:
        """See :func:`worker.inputs.read_part`."""
        return self._kept.value("part", [hashlib.sha256(data).digest()], lambda: read_part(data))

    def stage(
        self, inputs: Inputs, setup: Setup, steps: Sequence[ResolvedStep], as_is: Body, standing: Standing
    ) -> Stage:
        """See :func:`worker.stage.make_stage`."""
        depends = list(_setup(inputs, setup, steps, as_is, standing))
        self._keys[setup.id] = json.dumps(depends)
        return self._kept.value(
            "stage",
            depends,
            lambda: make_stage(inputs.part, setup, steps, as_is, inputs.files, standing),
            [setup, as_is, inputs.part.body, *(one for job in steps for one in (job.step, job.tool, *job.features))],
        )

    def finish(self, part: Part, stages: Sequence[Stage]) -> Finish:
        """See :func:`worker.facts.finish_of`; what each setup takes is kept, and the points that it is asked at."""
        return finish_of(part, stages, _Finishing(self._kept, self._keys, part))

    def reach(self, stage: Stage, part: Part) -> Mapping[str, Reach]:
        """See :func:`worker.reach.reach_of`; the stocks that it had to cut are the stage's from then on."""

        def compute() -> tuple[dict[str, Reach], dict[int, Body]]:
            return reach_of(stage, part), dict(stage.before_steps)

        shared = [stage.as_is, stage.to_be, *stage.before_steps.values()]
        found, stocks = self._kept.value("reach", [self._keys[stage.setup.id]], compute, shared)
        stage.before_steps.clear()
        stage.before_steps.update(stocks)
        return found

    def opinions(self, inputs: Inputs, stages: Sequence[Stage]) -> tuple[Opinion, ...]:
        """See :func:`worker.field.second_opinion`."""
        keys = [self._keys[stage.setup.id] for stage in stages]

        def keep(number: int, ground: Ground, compute: Callable[[], Carried]) -> Carried:
            if number == len(stages) - 1:  # nobody goes on from there
                return compute()
            return self._kept.numbers("field", [*_ground(ground), *keys[: number + 1]], compute)

        def compute() -> tuple[Opinion, ...]:
            return second_opinion(inputs.plan, inputs.part, stages, keep=keep)

        return self._kept.numbers("opinions", keys, compute)

    def written(self, stage: Stage, unit: Literal["mm", "inch"]) -> bytes:
        """What a setup leaves as the bytes of a STEP file."""

        def compute() -> str:
            return write_step(stage.to_be, unit, f"stage {stage.setup.id}").decode("ascii")

        return self._kept.numbers("step", [self._keys[stage.setup.id], unit], compute).encode("ascii")


class _Finishing(Keep):
    def __init__(self, kept: Kept, keys: Mapping[str, str], part: Part) -> None:
        self._kept, self._keys, self._part = kept, keys, part

    def taken(self, stage: Stage, compute: Callable[[], Taken]) -> Taken:
        return self._kept.numbers("taken", [self._keys[stage.setup.id]], compute)

    def probes(self, compute: Callable[[], Probes]) -> Probes:
        return self._kept.numbers("probes", [self._part.sha256], compute)


def _features(part: Part) -> str:
    """The features by their content: what is said of them may depend on more than the part."""
    return hashlib.sha256(encoded(part.features)).hexdigest()


def _ground(ground: Ground) -> Iterator[bytes | str]:
    yield repr((ground.h, ground.axis, ground.sampling, ground.chords))
    yield from (borders.tobytes() for borders in ground.lattice.borders)


def _setup(
    inputs: Inputs, setup: Setup, steps: Sequence[ResolvedStep], as_is: Body, standing: Standing
) -> Iterator[str]:
    """All that a stage is made from."""
    text = setup.model_dump_json()
    yield from (inputs.part.sha256, _features(inputs.part), text, digest(as_is), repr(standing))
    for job in steps:
        yield from (str(job.index), job.tool.model_dump_json(), *(feature.id for feature in job.features), "")
    for name in inputs.files:
        if json.dumps(name) in text:
            yield from (name, inputs.digests[f"file {name}"])
