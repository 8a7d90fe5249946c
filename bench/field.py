"""The second opinion on the four-setup example: time, difference and bound by cell size."""

from __future__ import annotations

import time

from bench.reach import cut_example
from worker.field import second_opinion

CELLS = (0.5, 0.25, 0.18)


def main() -> None:
    inputs, stages = cut_example()
    for cell in CELLS:
        begin = time.process_time()
        found = second_opinion(inputs.plan, inputs.part, stages, cell)
        spent = time.process_time() - begin
        worst = max(o.relative_difference for o in found)
        print(f"{cell} mm asked: {spent:.2f} s, worst difference {worst:.1e}, bound {found[-1].relative_bound:.1e}")
        print("   ", "; ".join(f"{o.setup} {o.difference:+.1f} of {o.bound:.0f} mm3" for o in found))
