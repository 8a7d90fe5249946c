"""Reach of the four-setup example: processor time of a tool in a setup, by the width of the columns (budget 80 ms)."""

from __future__ import annotations

import time
from pathlib import Path

import worker.reach.obstacles as obstacles
from worker.inputs import Inputs, read_inputs
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.reach import reach_of
from worker.resolve import resolve
from worker.stage.model import Stage

EXAMPLE = Path(__file__).parents[1] / "examples" / "valve_body"
BUDGET = 0.080
COLUMNS = (120_000, 250_000, 500_000)


def cut_example() -> tuple[Inputs, tuple[Stage, ...]]:
    """The example's inputs and its stages."""
    inputs = read_inputs((EXAMPLE / "part.step").read_bytes(), (EXAMPLE / "plan.json").read_bytes(), {})
    resolved = resolve(inputs.plan, inputs.part.features, on_feature_of(inputs.part))
    return inputs, cut_all(inputs, resolved, lambda _: None)


def main() -> None:
    inputs, stages = cut_example()
    given = obstacles.MOST_COLUMNS
    for most in COLUMNS:
        obstacles.MOST_COLUMNS = most
        begin = time.process_time()
        steps = sum(len(reach_of(stage, inputs.part)) for stage in stages)
        each = (time.process_time() - begin) / steps
        print(f"at most {most} columns: {1000 * each:.1f} ms a step over {steps} steps (budget {1000 * BUDGET:.0f} ms)")
    obstacles.MOST_COLUMNS = given
