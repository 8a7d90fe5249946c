"""The second opinion on the four-setup example: time, difference and bound by cell size."""

from __future__ import annotations

import time

import worker.field as field
from bench.reach import cut_example
from worker.field import second_opinion

CELLS = (0.25, 0.2, 0.1)
BUDGET = 0.3
"""Seconds at the finest cells."""


def main() -> None:
    inputs, stages = cut_example()
    field.MOST_LINES = 10**8  # the cells that are asked for, however many they are
    for cell in CELLS:
        begin = time.process_time()
        found = second_opinion(inputs.plan, inputs.part, stages, cell)
        spent = time.process_time() - begin
        worst = max(o.relative_difference for o in found)
        budget = f" (budget {BUDGET} s)" if cell == CELLS[-1] else ""
        bound = found[-1].relative_bound
        print(f"{cell} mm: {spent:.2f} s{budget}, worst difference {worst:.1e}, bound {bound:.1e}")
        print("   ", "; ".join(f"{o.setup} {o.difference:+.1f} of {o.bound:.0f} mm3" for o in found))
