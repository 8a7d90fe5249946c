"""Friction between workholding and stock, and the forces that press on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.plan import SetupPlan
from schemas.tolerances import TOUCH
from schemas.workholding import FixtureElement, FixturePlate, Vise
from worker.checks.api import Context
from worker.checks.hold._pushing import pressing
from worker.kernel.contact import touches
from worker.stage.model import HoldingBody, Stage

FRICTION = {"smooth": 0.10, "diamond_serration": 0.20, "serrated": 0.35}
"""Clamping coefficient on a rough to medium machined steel face, by jaw surface (works standard RN-1391, Table 4)."""
MATERIAL_FACTOR = {"N": 0.95, "K": 0.80}
"""Factor on it for aluminium alloys and grey iron (same table); 1 for the rest."""


@dataclass(frozen=True)
class Press:
    """A clamp or bolt that presses on the stock, and its force in N; None where the plan does not say it."""

    body: HoldingBody
    force: float | None


def presses(context: Context, stage: Stage) -> tuple[Press, ...]:
    """The clamps and bolts of a fixture that press on the stock; a clamp without a force has that of the bolts that
    hold it down, which do not count again."""
    holding = stage.setup.workholding
    if not isinstance(holding, FixturePlate):
        return ()
    elements = list(zip(stage.holding.bodies, holding.elements, strict=True))

    def compute() -> tuple[Press, ...]:
        ours = pressing(context, stage)
        bolts = [(b, e) for b, e in elements if e.type == "bolt" and b not in ours]
        return tuple(Press(b, e.force or _held_down(b, bolts)) for b, e in elements if b in ours)

    return context.once(f"hold.presses.{stage.setup.id}", compute)


def _held_down(clamp: HoldingBody, bolts: Sequence[tuple[HoldingBody, FixtureElement]]) -> float | None:
    found = [e.force for b, e in bolts if e.force is not None and touches(clamp.body, b.body, TOUCH)]
    return sum(found) if found else None


def clamping_force(context: Context, stage: Stage) -> float:
    """Clamping force in N; of a fixture the sum of what presses on the stock, as far as stated."""
    holding = stage.setup.workholding
    if isinstance(holding, Vise):
        return holding.clamping_force or 0.0
    return sum(one.force or 0.0 for one in presses(context, stage))


def friction(plan: SetupPlan, stage: Stage) -> float:
    """Clamping coefficient between jaws and stock."""
    holding = stage.setup.workholding
    surface = holding.jaw_surface if isinstance(holding, Vise) else "smooth"
    material = plan.workpiece.material
    group = material.iso513_group if material else None
    return FRICTION[surface] * MATERIAL_FACTOR.get(group or "", 1.0)
