"""Where jaws or clamps bear on a finished face, and how hard they may press there."""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.base import Vec3
from worker.checks.api import Context
from worker.checks.hold._contacts import clamping, patches_of, total, vise_of
from worker.estimate.strength import YIELD
from worker.kernel import measure
from worker.stage.model import HoldingBody, Stage


@dataclass(frozen=True)
class Borne:
    """A body of the workholding on a finished face: a point there, the area met (mm2), the force (N) that yields it;
    infinite where nobody states the material."""

    body: HoldingBody
    at: Vec3
    area: float
    force: float


def hard(stage: Stage) -> tuple[HoldingBody, ...]:
    """What presses on the stock and is not soft."""
    vise = vise_of(stage)
    return () if vise is not None and vise.jaws == "soft" else clamping(stage)


def bearing(context: Context, stage: Stage) -> tuple[Borne, ...]:
    """The bodies that press on finished faces; none where the jaws are soft."""

    def compute() -> tuple[Borne, ...]:
        return tuple(one for body in hard(stage) if (one := _borne(context, stage, body)) is not None)

    return context.once(f"hold.bearing.{stage.setup.id}", compute)


def dents_at(context: Context, stage: Stage) -> float:
    """The clamping force (N) of a vise beyond which a jaw dents a finished face."""
    found = bearing(context, stage) if vise_of(stage) is not None else ()
    return min((one.force for one in found), default=math.inf)


def _borne(context: Context, stage: Stage, body: HoldingBody) -> Borne | None:
    met, material = patches_of(context, stage, body), context.plan.workpiece.material
    at = next((p.inside for p in met if measure.contains(context.part.body, p.inside) == "on"), None)
    if at is None:
        return None
    group = material.iso513_group if material else None
    return Borne(body, at, total(met), total(met) * YIELD[group] if group else math.inf)
