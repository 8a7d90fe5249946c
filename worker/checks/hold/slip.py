"""hold.slip: friction does not hold the estimated cutting force with the asked-for safety."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.plan import ON_AXIS
from schemas.tool import UNDERCUTTERS
from schemas.workholding import Vise
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._dents import dents_at
from worker.checks.hold._friction import clamping_force, friction, presses
from worker.checks.hold._moments import Moment, moments, place_of, torsion
from worker.checks.milling import travels
from worker.estimate.forces import estimate_load
from worker.estimate.materials import cuttability
from worker.stage.model import Cut, Stage

LEAST_SHARE = 0.1
"""A cut less than this share of the planned depth is no advice."""


@rule(
    "hold.slip",
    scope="cut",
    metal="here",
    facets=True,
    why="A part that slips in the jaws is scrap, and may be thrown.",
    reference="2 mu F >= S Fc, force along the jaws; moments about the jaws' middle (2 mu F a >= S M, a half the "
    "length they touch), over a jaw's edge (F (grip + mu opening) >= S M), of a fixture about the middle of its clamps "
    "(2 mu sum F r >= S M) and over the edge of its support (sum F d >= S M); friction and safety from works standard "
    "RN-1391, Tables 4 and 5; force by Kienzle (kc1.1); an estimate, whatever its digits",
    limits=(
        Limit(
            "slip_safety", 2.0, "1", "smallest safety factor of works standard RN-1391, Table 5 (points to VDI 3106)"
        ),
    ),
)
def slip(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """Peak side force of a milling cutter, on a fixture the torque of a drill too, that the plan's own data give;
    anything not stated is a skip."""
    missing = _missing(context, stage, cut)
    if missing:
        yield Skip(missing)
        return
    height = max(cut.entry_z - cut.tip_z, 0.0)
    _, load = estimate_load(cut.step, cut.tool, context.plan.workpiece.material, context.plan.machine, height)
    if travels(cut):
        found = list(_milled(context, stage, cut, load.side_force))
    else:
        turned = torsion(context, stage, cut, load.torque, load.feed_force)
        found = [] if turned is None else list(_turned(context, stage, cut, [turned]))
    unstated = [one.body.name for one in presses(context, stage) if one.force is None]
    yield from [Skip(f"{unstated[0]} states no force")] if found and unstated else found


def _milled(context: Context, stage: Stage, cut: Cut, side: float) -> Iterator[Draft]:
    force, mu = clamping_force(context, stage), friction(context.plan, stage)
    safety = context.limit("slip_safety")
    held = 2 * mu * force / safety
    if side <= held:
        yield from _turned(context, stage, cut, list(moments(context, stage, cut, side)))
        return
    wanted = safety * side / (2 * mu)
    yield Draft(
        message=f"Estimate: the cut pushes with {side:.0f} N; friction {mu:.3g} at {force:.0f} N holds "
        f"{held:.0f} N with safety {safety:g}.",
        measured=round(side, 1),
        limit=round(held, 1),
        unit="N",
        at=place_of(cut),
        remedy=_remedy(context, stage, cut, wanted, held / side),
    )


def _turned(context: Context, stage: Stage, cut: Cut, found: list[Moment]) -> Iterator[Draft]:
    """The moment that is held worst."""
    safety = context.limit("slip_safety")
    worst = min((m for m in found if m.asked > 0), key=lambda m: m.held / m.asked, default=None)
    if worst is None or safety * worst.asked <= worst.held:
        return
    share = worst.held / (safety * worst.asked)
    axial = cut.step.technology.axial_cutting_depth or 0.0
    wanted = clamping_force(context, stage) / share
    higher = worst.lever + axial / 2  # of the middle of a thinner pass, at most
    yield Draft(
        message=f"Estimate: {worst.words} with {worst.asked / 1000:.1f} N m; clamping holds "
        f"{worst.held / safety / 1000:.1f} N m at most with safety {safety:g}.",
        measured=round(worst.asked / 1000, 2),
        limit=round(worst.held / safety / 1000, 2),
        unit="N m",
        at=worst.at,
        remedy=_remedy(context, stage, cut, wanted, share * worst.lever / (higher or 1.0)),
    )


def _missing(context: Context, stage: Stage, cut: Cut) -> str | None:
    technology, material = cut.step.technology, context.plan.workpiece.material
    milled = travels(cut)
    if not milled and (stage.holding.kind != "fixture_plate" or cut.step.operation not in ON_AXIS):
        return "no milling cutter: the force goes down the axis"
    if clamping_force(context, stage) <= 0:
        return "the workholding states no clamping force"
    if material is None or material.iso513_group is None:
        return "the plan states no iso513_group of the material"
    tapped = cut.step.operation == "tapping"  # its pitch is the feed
    if not tapped and technology.feed_per_tooth is None and technology.feed_per_rev is None:
        return "the step states no feed"
    if milled and (technology.axial_cutting_depth is None or technology.radial_cutting_depth is None):
        return "the step states no depths of cut"
    return None


def _remedy(context: Context, stage: Stage, cut: Cut, wanted: float, share: float) -> Remedy:
    """More force where that is within twice the stated one and dents no finished face, else a lighter cut: the force
    goes with the depth."""
    stated, axial = clamping_force(context, stage), cut.step.technology.axial_cutting_depth or 0.0
    dents = wanted > dents_at(context, stage)
    if isinstance(stage.setup.workholding, Vise) and wanted <= 2 * stated and not dents:
        pointer = context.of_setup(stage, "workholding", "clamping_force")
        return Remedy(text=f"Clamp with {wanted:.0f} N.", pointer=pointer, value=math.ceil(wanted), unit="N")
    if not travels(cut) or share < LEAST_SHARE:
        text = f"Clamp with {_asked(stage, wanted, dents)}, or put locators or stops against the cut."
        return Remedy(text=text, pointer=context.of_setup(stage, "workholding"))
    if cut.tool.type in UNDERCUTTERS:
        return _slower(context, stage, cut, _asked(stage, wanted, dents), share)
    value = math.floor(axial * share * 1000) / 1000
    return Remedy(
        text=f"Cut {context.text(value)} deep at a time, or clamp with {_asked(stage, wanted, dents)}.",
        pointer=context.of_step(stage, cut, "technology", "axial_cutting_depth"),
        value=value,
        unit="mm",
    )


def _slower(context: Context, stage: Stage, cut: Cut, asked: str, share: float) -> Remedy:
    """A head cuts as high as it is, whatever the pass: less feed, F = ap h^(1 - mc) kc1.1 (Kienzle)."""
    technology, material = cut.step.technology, cuttability(context.plan.workpiece.material)
    name = "feed_per_tooth" if technology.feed_per_tooth is not None else "feed_per_rev"
    value = math.floor((getattr(technology, name) or 0.0) * share ** (1 / (1 - material.mc)) * 1e4) / 1e4
    return Remedy(
        text=f"Set {name} to {context.text(value)}, or clamp with {asked}.",
        pointer=context.of_step(stage, cut, "technology", name),
        value=value,
        unit="mm",
    )


def _asked(stage: Stage, wanted: float, dents: bool) -> str:
    where = " in all, nearer to the cut" if stage.holding.kind == "fixture_plate" else ""
    return f"{wanted:.0f} N{where}" + (", which dents a finished face: with something soft between" if dents else "")
