"""Steps that work within what a later step takes all the same: roughing under finishing, a spot under its drill.

They part that later step's chips, which have few faces, instead of the stock, which has many; and the stock is never
cut to terraces that the next step takes away.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from schemas.base import Box
from schemas.tolerances import COINCIDENT
from worker.kernel.errors import KernelError
from worker.kernel.planar import Region, intersect, rectangle, subtract
from worker.stage.removal import Sweep

LEVEL = 1e-9
"""Heights (mm) that differ by no more are one height: all else is told by the solids."""


def hosts(sweeps: Sequence[Sweep], metal: Box | None, meets: Callable[[int, int], bool]) -> list[int | None]:
    """For each step the first later one that sweeps all of the metal that it sweeps, None where there is none.

    Every step between the two that meets it in plan lies within that later one as well: who takes what stays as it is.
    ``metal`` is a box round the stock in the setup's frame, where one is known, ``meets`` whether two steps overlap in
    plan.
    """
    found: list[int | None] = [None] * len(sweeps)
    may_hold = _rooms(sweeps, metal)
    for i in range(len(sweeps) - 2, -1, -1):
        for j in may_hold(i):
            if _within(sweeps[i], sweeps[j], metal) and all(
                _is_in(k, j, found) for k in range(i + 1, j) if meets(i, k)
            ):
                found[i] = j
                break
    return found


def _rooms(sweeps: Sequence[Sweep], metal: Box | None) -> Callable[[int], list[int]]:
    """For a step the later ones whose rectangle in plan holds its own, as far as that lies over the metal."""
    nowhere = (np.inf, np.inf, -np.inf, -np.inf)
    held = np.array([sweep.plan.bounds if sweep.plan else nowhere for sweep in sweeps]).reshape(-1, 4)
    own = held.copy()
    if metal is not None:
        own[:, :2], own[:, 2:] = np.maximum(own[:, :2], metal.min[:2]), np.minimum(own[:, 2:], metal.max[:2])
    nothing = np.asarray((own[:, :2] >= own[:, 2:]).any(axis=1))

    def later(step: int) -> list[int]:
        low, high = held[step + 1 :, :2] - COINCIDENT, held[step + 1 :, 2:] + COINCIDENT
        holds = (low <= own[step, :2]).all(axis=1) & (high >= own[step, 2:]).all(axis=1)
        return (np.flatnonzero(holds | nothing[step]) + step + 1).tolist()

    return later


def _is_in(step: int, host: int, found: Sequence[int | None]) -> bool:
    """Whether the host is a host of the step, directly or not."""
    here = found[step]
    while here is not None and here < host:
        here = found[here]
    return here == host


def _within(one: Sweep, other: Sweep, metal: Box | None) -> bool:
    """Whether the other takes all that the one takes of the metal; no where it is not plain to see."""
    if other.column is None or not (one.bodies and other.bodies):
        return False
    low = one.tip_z if metal is None else max(one.tip_z, metal.min[2])
    if low < other.column - LEVEL:
        return False
    try:
        return _covers(other.plan, _over(one.plan, metal))
    except KernelError:
        return False


def _over(plan: Region, metal: Box | None) -> Region:
    """The plan over the metal."""
    if metal is None:
        return plan
    (x0, y0, _), (x1, y1, _) = metal.min, metal.max
    a, b, c, d = plan.bounds
    return plan if a >= x0 and b >= y0 and c <= x1 and d <= y1 else intersect(plan, rectangle(x0, y0, x1, y1))


def _covers(plan: Region, other: Region) -> bool:
    if not other:
        return True
    outside = plan.signed_distance(other.points) < -COINCIDENT
    return not np.any(outside) and not subtract(other, [plan])
