"""hold.slip: friction does not hold the estimated cutting force with the asked-for safety."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.plan import SetupPlan
from schemas.tool import MILLS
from schemas.workholding import Vise
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import jaw_patches
from worker.checks.hold._friction import clamping_force, friction
from worker.estimate.forces import estimate_load
from worker.stage.model import Cut, Stage


@rule(
    "hold.slip",
    scope="cut",
    metal="here",
    facets=True,
    why="A part that slips in the jaws is scrap, and may be thrown.",
    reference="2 mu F >= S Fc, force along the jaws, and 2 mu F a >= S M, the moment that turns the part out between "
    "them, a half the length they touch; friction and safety from works standard RN-1391, Tables 4 and 5; force by "
    "Kienzle (kc1.1); an estimate, whatever its digits",
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
    force, mu = clamping_force(stage), friction(context.plan, stage)
    height = max(cut.entry_z - cut.tip_z, 0.0)
    _, load = estimate_load(cut.step, cut.tool, context.plan.workpiece.material, context.plan.machine, height)
    safety = context.limit("slip_safety")
    held = 2 * mu * force / safety
    if load.side_force <= held:
        yield from _lifted_out(context, stage, cut, load.side_force, held)
        return
    wanted = safety * load.side_force / (2 * mu)
    yield Draft(
        message=f"Estimate: the cut pushes with {load.side_force:.0f} N; friction {mu:.3g} at {force:.0f} N holds "
        f"{held:.0f} N with safety {safety:g}.",
        measured=round(load.side_force, 1),
        limit=round(held, 1),
        unit="N",
        remedy=_remedy(context, stage, cut, wanted, held / load.side_force),
    )


def _lifted_out(context: Context, stage: Stage, cut: Cut, force: float, held: float) -> Iterator[Draft]:
    """The cut above the jaws turns the part about their axis and lifts one end out; the friction that holds against
    it acts at the ends of the contact at most."""
    arm, lever = half_contact(context, stage), _lever(stage, cut)
    if arm is None or force * lever <= held * arm:
        return
    share = held * arm / (force * lever)
    higher = lever + (cut.step.technology.axial_cutting_depth or 0.0) / 2  # the middle of a thinner pass, at most
    yield Draft(
        message=f"Estimate: the cut, {context.text(lever)} above the middle of the grip, turns the part out of the "
        f"jaws with {force * lever / 1000:.1f} N m; friction holds {held * arm / 1000:.1f} N m at most with safety "
        f"{context.limit('slip_safety'):g}.",
        measured=round(force * lever / 1000, 2),
        limit=round(held * arm / 1000, 2),
        unit="N m",
        remedy=_remedy(context, stage, cut, clamping_force(stage) / share, held * arm / (force * higher)),
    )


def half_contact(context: Context, stage: Stage) -> float | None:
    """Half the length over which the shorter-touching jaw meets the stock, mm; None without flat contact."""
    jaws = stage.holding.jaws
    if jaws is None:
        return None
    across = 1 if jaws.axis == "X" else 0
    ends = [
        [stage.frame.to_local(p)[across] for patch in jaw_patches(context, stage, role) for p in patch.points]
        for role in ("jaw_fixed", "jaw_moving")
    ]
    return min((max(e) - min(e)) / 2 for e in ends) if all(ends) else None


def _lever(stage: Stage, cut: Cut) -> float:
    """Height of the middle of the highest pass above the middle of the grip, mm."""
    jaws, axial = stage.holding.jaws, cut.step.technology.axial_cutting_depth or 0.0
    return cut.entry_z - axial / 2 - (jaws.support_z + jaws.grip / 2) if jaws is not None else 0.0


def _missing(plan: SetupPlan, stage: Stage, cut: Cut) -> str | None:
    technology = cut.step.technology
    if cut.tool.type not in MILLS:
        return "no milling cutter: the force goes down the axis"
    if clamping_force(stage) <= 0:
        return "the workholding states no clamping force"
    if plan.workpiece.material is None or plan.workpiece.material.iso513_group is None:
        return "the plan states no iso513_group of the material"
    if technology.feed_per_tooth is None and technology.feed_per_rev is None:
        return "the step states no feed"
    if technology.axial_cutting_depth is None or technology.radial_cutting_depth is None:
        return "the step states no depths of cut"
    return None


def _remedy(context: Context, stage: Stage, cut: Cut, wanted: float, share: float) -> Remedy:
    """More force where that is within twice the stated one, else a lighter cut: the force goes with the depth."""
    stated, axial = clamping_force(stage), cut.step.technology.axial_cutting_depth or 0.0
    if isinstance(stage.setup.workholding, Vise) and wanted <= 2 * stated:
        pointer = context.of_setup(stage, "workholding", "clamping_force")
        return Remedy(text=f"Clamp with {wanted:.0f} N.", pointer=pointer, value=math.ceil(wanted), unit="N")
    value = math.floor(axial * share * 1000) / 1000
    return Remedy(
        text=f"Cut {context.text(value)} deep at a time, or clamp with {wanted:.0f} N.",
        pointer=context.of_step(stage, cut, "technology", "axial_cutting_depth"),
        value=value,
        unit="mm",
    )
