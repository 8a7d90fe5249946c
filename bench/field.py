"""The second opinion on the four-setup example: time, difference and bound by cell size."""

from __future__ import annotations

import gc
import time

import worker.field as field
from bench.reach import cut_example
from worker.field import second_opinion

CELLS = (0.25, 0.2, 0.1)
BUDGET = 0.3
"""Seconds at the finest cells."""
RUNS = 3
"""The least of so many counts: other work on the machine says nothing here."""


def main() -> None:
    inputs, stages = cut_example()
    field.MOST_LINES = 10**8  # the cells that are asked for, however many they are
    gc.disable()  # as a check's own process does
    for cell in CELLS:
        times = []
        for _ in range(RUNS):
            begin = time.process_time()
            found = second_opinion(inputs.plan, inputs.part, stages, cell)
            times.append(time.process_time() - begin)
        spent = min(times)
        worst = max(o.relative_difference for o in found)
        budget = f" (budget {BUDGET} s)" if cell == CELLS[-1] else ""
        bound = found[-1].relative_bound
        print(f"{cell} mm: {spent:.2f} s{budget}, worst difference {worst:.1e}, bound {bound:.1e}")
        print("   ", "; ".join(f"{o.setup} {o.difference:+.1f} of {o.bound:.0f} mm3" for o in found))
