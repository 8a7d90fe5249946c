"""hold.slip: friction does not hold the estimated cutting force with the asked-for safety."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.plan import Material, SetupPlan
from schemas.tool import MILLS
from schemas.workholding import FixturePlate, Vise
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.estimate.forces import estimate_load
from worker.stage.model import Cut, Stage

FRICTION = {"smooth": 0.10, "diamond_serration": 0.20, "serrated": 0.35}
"""Clamping coefficient on a rough to medium machined steel face, by jaw surface (works standard RN-1391, Table 4)."""
MATERIAL_FACTOR = {"N": 0.95, "K": 0.80}
"""Factor on it for aluminium alloys and grey iron (same table); 1 for the rest."""


@rule(
    "hold.slip",
    scope="cut",
    why="A part that slips in the jaws is scrap, and may be thrown.",
    reference="2 mu F >= S Fc, force along the jaws; friction and safety from works standard RN-1391, Tables 4 and 5; "
    "force by Kienzle (kc1.1); an estimate, whatever its digits",
    limits=(
        Limit(
            "slip_safety", 2.0, "1", "smallest safety factor of works standard RN-1391, Table 5 (points to VDI 3106)"
        ),
    ),
)
def slip(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Peak side force of a milling cutter that the plan's own data give; anything not stated is a skip."""
    missing = _missing(context.plan, stage, cut)
    if missing:
        yield Skip(missing)
        return
    force, mu = _clamping_force(stage), _friction(context.plan, stage)
    height = max(cut.entry_z - cut.tip_z, 0.0)
    _, load = estimate_load(cut.step, cut.tool, _material(context.plan), context.plan.machine, height)
    safety = context.limit("slip_safety")
    held = 2 * mu * force / safety
    if load.side_force <= held:
        return
    wanted = safety * load.side_force / (2 * mu)
    yield Draft(
        message=f"Estimate: the cut pushes with {load.side_force:.0f} N; friction {mu:.3g} at {force:.0f} N holds "
        f"{held:.0f} N with safety {safety:g}.",
        measured=round(load.side_force, 1),
        limit=round(held, 1),
        unit="N",
        remedy=_remedy(context, stage, wanted),
    )


def _missing(plan: SetupPlan, stage: Stage, cut: Cut) -> str | None:
    technology = cut.step.technology
    if cut.tool.type not in MILLS:
        return "no milling cutter: the force goes down the axis"
    if _clamping_force(stage) <= 0:
        return "the workholding states no clamping force"
    if plan.workpiece.material is None or plan.workpiece.material.iso513_group is None:
        return "the plan states no iso513_group of the material"
    if technology.feed_per_tooth is None and technology.feed_per_rev is None:
        return "the step states no feed"
    if technology.axial_cutting_depth is None or technology.radial_cutting_depth is None:
        return "the step states no depths of cut"
    return None


def _clamping_force(stage: Stage) -> float:
    """Clamping force in N; of a fixture the sum of what its clamps and bolts state."""
    holding = stage.setup.workholding
    if isinstance(holding, Vise):
        return holding.clamping_force or 0.0
    return sum(e.force or 0.0 for e in holding.elements) if isinstance(holding, FixturePlate) else 0.0


def _friction(plan: SetupPlan, stage: Stage) -> float:
    holding = stage.setup.workholding
    surface = holding.jaw_surface if isinstance(holding, Vise) else "smooth"
    material = plan.workpiece.material
    group = material.iso513_group if material else None
    return FRICTION[surface] * MATERIAL_FACTOR.get(group or "", 1.0)


def _material(plan: SetupPlan) -> Material | None:
    return plan.workpiece.material


def _remedy(context: Context, stage: Stage, wanted: float) -> Remedy:
    text = f"Clamp with {wanted:.0f} N, or take a lighter cut."
    if isinstance(stage.setup.workholding, Vise):
        pointer = context.of_setup(stage, "workholding", "clamping_force")
        return Remedy(text=text, pointer=pointer, value=round(wanted, 1), unit="N")
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding", "elements"))
