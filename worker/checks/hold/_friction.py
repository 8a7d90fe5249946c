"""Friction between jaws and stock, and the force that presses on it."""

from __future__ import annotations

from schemas.plan import SetupPlan
from schemas.workholding import FixturePlate, Vise
from worker.stage.model import Stage

FRICTION = {"smooth": 0.10, "diamond_serration": 0.20, "serrated": 0.35}
"""Clamping coefficient on a rough to medium machined steel face, by jaw surface (works standard RN-1391, Table 4)."""
MATERIAL_FACTOR = {"N": 0.95, "K": 0.80}
"""Factor on it for aluminium alloys and grey iron (same table); 1 for the rest."""


def clamping_force(stage: Stage) -> float:
    """Clamping force in N; of a fixture the sum of what its clamps and bolts state."""
    holding = stage.setup.workholding
    if isinstance(holding, Vise):
        return holding.clamping_force or 0.0
    return sum(e.force or 0.0 for e in holding.elements) if isinstance(holding, FixturePlate) else 0.0


def friction(plan: SetupPlan, stage: Stage) -> float:
    """Clamping coefficient between jaws and stock."""
    holding = stage.setup.workholding
    surface = holding.jaw_surface if isinstance(holding, Vise) else "smooth"
    material = plan.workpiece.material
    group = material.iso513_group if material else None
    return FRICTION[surface] * MATERIAL_FACTOR.get(group or "", 1.0)
