"""Clamps of a fixture that press between supports: the stock bends under them. An estimate (setup's frame, mm, N)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, patches_of, pointer_of, support_patches
from worker.checks.hold._friction import Press, presses
from worker.checks.hold._loads import flat
from worker.checks.hold._support import Point2, hull, outside
from worker.estimate.strength import YIELD
from worker.kernel import boolean, measure, primitives
from worker.kernel.contact import Patch
from worker.stage.model import Stage


def bending_drafts(context: Context, stage: Stage) -> Iterator[Draft]:
    """A plate over a gap of twice the distance to the nearest support, as a beam held up at both ends: the force bends
    it with F d / 2, and it bears b t^2 / 6 at the yield stress, b the clamp's width and as much on each side as d."""
    material = context.plan.workpiece.material
    group = material.iso513_group if material else None
    below = [hull([flat(stage, p) for p in patch.points]) for patch in support_patches(context, stage)]
    if group is None or not below:
        return
    for one in presses(context, stage):
        down = [p for p in patches_of(context, stage, one.body) if dot(p.normal, stage.frame.z) >= 1 - SQUARE]
        off = min((_apart([flat(stage, p) for p in patch.points], below) for patch in down), default=0.0)
        if one.force is None or off <= LENGTH:
            continue
        bears = _modulus(stage, down[0], off) * YIELD[group] * 2 / off
        if one.force > bears:
            yield _draft(context, stage, one, down[0], off, bears)


def _apart(spots: Sequence[Point2], below: Sequence[tuple[Point2, ...]]) -> float:
    """Distance in plan from where a clamp presses to the nearest support; 0 over one."""
    ours, found = hull(spots), []
    for support in below:
        found += [*(outside(support, p) for p in ours), *(outside(ours, p) for p in support)]
    return min(found)


def _modulus(stage: Stage, patch: Patch, off: float) -> float:
    """Section modulus of the stock under a clamp, b t^2 / 6 (mm3); t is what stands there on the average."""
    box = measure.bounding_box(stage.as_is, stage.frame)
    spots = [stage.frame.to_local(p) for p in patch.points]
    (x0, x1), (y0, y1) = ((min(p[k] for p in spots), max(p[k] for p in spots)) for k in (0, 1))
    column = primitives.box((x0, y0, box.min[2] - 1.0), (x1, y1, max(p[2] for p in spots) + TOUCH), stage.frame)
    thick = measure.volume(boolean.common(stage.as_is, [column], merge=False)) / ((x1 - x0) * (y1 - y0))
    wide = min(min(x1 - x0, y1 - y0) + 2 * off, max(box.size[:2]))
    return wide * thick**2 / 6


def _draft(context: Context, stage: Stage, one: Press, patch: Patch, off: float, bears: float) -> Draft:
    force = one.force or 0.0
    return Draft(
        message=f"Estimate: {one.body.name} presses with {force:.0f} N {context.text(off)} beside the nearest support: "
        f"the stock under it bends from {bears:.0f} N on.",
        measured=round(force, 1),
        limit=round(bears, 1),
        unit="N",
        at=patch.inside,
        remedy=Remedy(
            text=f"Put a jack under {one.body.name}, or clamp there with {math.floor(bears)} N at most.",
            pointer=f"{pointer_of(context, stage, one.body)}/force",
            value=float(math.floor(bears)),
            unit="N",
        ),
        level="warning",
    )
