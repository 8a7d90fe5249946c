"""Where a step's tool runs into the workholding: from above or beside, or below after it has come through."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.base import Box, Vec3
from schemas.tolerances import LENGTH, VOLUME_NOTHING
from worker.checks.api import Context
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.shape import Body, is_empty, solids
from worker.stage.model import Cut, HoldingBody, Stage


@dataclass(frozen=True)
class Hit:
    """The part of one body that the tool passes through. ``below``: met by coming out of the stock underneath."""

    body: HoldingBody
    volume: float
    box: Box
    at: Vec3
    below: bool

    @property
    def depth(self) -> float:
        """How deep it goes into the body, along the tool's axis, mm."""
        return self.box.size[2]


def hits(context: Context, stage: Stage, cut: Cut) -> tuple[Hit, ...]:
    """The bodies that the step's sweep enters, in the workholding's order; boxes in the setup's frame.

    Raises KernelError where the overlap is not known.
    """
    if cut.workholding_fault:
        raise KernelError("workholding", cut.workholding_fault)
    if cut.in_workholding is None:
        return ()
    inside: Body = cut.in_workholding
    key = f"cut.hits.{stage.setup.id}.{cut.index}"
    return context.once(key, lambda: tuple(h for b in stage.holding.bodies for h in _hit(stage, cut, inside, b)))


def _hit(stage: Stage, cut: Cut, inside: Body, body: HoldingBody) -> list[Hit]:
    common = boolean.common(inside, [body.body], merge=False)
    if is_empty(common) or measure.volume(common) <= VOLUME_NOTHING:
        return []
    box = measure.bounding_box(common, stage.frame)
    return [Hit(body, measure.volume(common), box, _in_the_largest(common), _is_below(stage, cut, body, box))]


def _in_the_largest(body: Body) -> Vec3:
    """The middle of its largest piece: that of them all may lie between them, where nothing is."""

    def order(piece: Body) -> tuple[float, Vec3]:
        return -round(measure.volume(piece), 6), measure.bounding_box(piece).min

    return measure.centroid(min(solids(body), key=order, default=body))


def _is_below(stage: Stage, cut: Cut, body: HoldingBody, box: Box) -> bool:
    """A drill that has been through metal above; a cutter that comes out under the stock or into what carries it."""
    if cut.plunges:
        return cut.entry_z > box.max[2] + LENGTH
    carries = body.role in ("parallel", "bed", "plate", "jack")
    return box.max[2] <= stage.holding.support_z + LENGTH and (carries or box.max[2] <= cut.bottom_z_nominal + LENGTH)
