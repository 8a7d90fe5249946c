"""Grooves, T-slots and dovetails that a straight tool does not see: cut by the head of an undercutting cutter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from schemas.base import Frame, cross, dot, norm
from schemas.feature import Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH, OPENING_LEAST, OPENING_SLACK
from schemas.tool import UNDERCUTTERS, Tool
from worker.kernel import boolean
from worker.kernel.errors import KernelError
from worker.kernel.planar import NOWHERE, Bounds, Region, grow, intersect, overlap, rectangle, union
from worker.kernel.planar_tidy import aligned, tidied
from worker.kernel.rim import swept
from worker.kernel.round_corner import rounded_both
from worker.kernel.shadow import concave_radius, flank_of
from worker.kernel.shape import Body, is_empty
from worker.kernel.sweep import prism
from worker.stage.model import ResolvedStep, Section, Stand
from worker.stage.removal.footprint import Footprint, footprint, past_open_sides
from worker.stage.removal.heads import Head, head_of
from worker.stage.removal.levels import tip_height
from worker.stage.removal.positions import Limits, Space
from worker.stage.removal.scene import CLEARANCE, Scene, Sweep, nothing

SEEN = 1e-6
"""Sine up to which a direction is one of the feature's access directions."""
SAME_AREA = 1e-9
FINE = 2e-3
"""Sizes that would fit are found to this (mm)."""


def undercuts(frame: Frame, tool: Tool, feature: Feature) -> bool:
    """True for an undercutting cutter on a feature that a straight one does not see from the spindle."""
    seen = any(dot(d, frame.z) > 0 and norm(cross(d, frame.z)) < SEEN for d in feature.access)
    return tool.type in UNDERCUTTERS and not seen


def clear_undercut(scene: Scene, job: ResolvedStep, feature: Feature) -> Sweep:
    """What the head passes through in the feature and past its open sides; neck and shank only bar the way."""
    plan = _plan(scene, job, feature)
    if not plan.ground:
        return nothing(plan.bottom, f"{feature.id} shows the spindle neither a floor nor walls.")
    limits = _limits(scene, job, feature, plan)
    space = Space(scene, job.tool, limits, plan.ground)
    found, slack = _stands(space)
    found = found if space.head.straight else _entering(found, plan.core)
    radius = space.head.radius - slack
    covers = [(s, aligned(_cover(scene, job, plan, grow(s.free, radius)), s.free.edges, radius)) for s in found]
    covers = _joined([(s, cover) for s, cover in covers if cover])
    kept_off = _kept_off(scene, space, slack)
    if not covers:
        return replace(nothing(limits.low, _why(job, feature, kept_off)), kept_off=kept_off)
    bodies = _bodies(scene, job, feature, space, covers, slack, free=not kept_off)
    entering = (
        limits.low < limits.floor - COINCIDENT or covers[-1][0].high + space.head.height > min(limits.roofs) + LENGTH
    )
    return Sweep(
        bodies=bodies,
        plan=union(cover for _, cover in covers),
        gouging=bodies if (limits.obeyed and entering) or limits.side < 0 else (),
        tip_z=limits.low,
        full_diameter_z=limits.low,
        nominal_z=plan.bottom,
        stands=tuple(stand for stand, _ in covers),
        kept_off=kept_off,
    )


def _plan(scene: Scene, job: ResolvedStep, feature: Feature) -> Footprint:
    """Where the head may be: beneath what stands over the feature too. Of a feature that is open on all sides, a slit
    that runs into a bore, no farther off than a head gets that works in it: it does not go round the part."""
    domain = scene.domain(job.tool)
    plan = footprint(scene, feature, domain, roofed=True)
    if plan.floors and plan.ground.area > domain.area * (1 - SAME_AREA):
        return replace(plan, ground=intersect(domain, grow(plan.core, job.tool.diameter)))
    return plan


def _cover(scene: Scene, job: ResolvedStep, plan: Footprint, whole: Region) -> Region:
    """What is covered in the feature's own plan, and past its open sides what continues it: a head that has room to
    flare there need not, and its arcs would touch the feature's walls where the metal ends."""
    inner = intersect(whole, plan.core) if plan.floors else NOWHERE
    onward = past_open_sides(scene, inner, plan.floors, plan.ground, roofed=True) if inner else whole
    reach = _around(scene.plan, 2.0 * CLEARANCE + 2.0 * head_of(job.tool).depth)
    return tidied(intersect(intersect(whole, onward), reach))


def _limits(scene: Scene, job: ResolvedStep, feature: Feature, plan: Footprint) -> Limits:
    """Tips from the bottom up to where the head meets the roof: the highest face that looks down, else the top."""
    step = job.step
    low, stated = tip_height(step, plan.bottom)
    shown = [scene.sky.shown[i] for i in feature.faces]
    roofs = [s.low for s in shown if s.look == "down" and s.flat] or [scene.heights(feature)[1]]
    raised = 0.0 if stated else max(step.allowance_bottom, 0.0)
    high = max(low, max(roofs) - max(step.allowance_side, 0.0) - head_of(job.tool).height)
    return Limits(low, high, plan.bottom, tuple(roofs), step.allowance_side, raised, stated)


def _around(plan: Bounds, margin: float) -> Region:
    x0, y0, x1, y1 = plan
    return rectangle(x0 - margin, y0 - margin, x1 + margin, y1 + margin)


def _stands(space: Space) -> tuple[tuple[Stand, ...], float]:
    """Positions of the exact cutter; of one smaller by as little slack as lets it move where the exact one cannot."""
    eased = space.stands(OPENING_SLACK)
    by_slack = 4.0 * OPENING_SLACK * max(space.tool.radius, 1.0) * sum(len(s.free.edges) for s in eased)
    for slack in (0.0, OPENING_LEAST):
        try:
            found = space.stands(slack)
            if _reach(space, eased, OPENING_SLACK) - _reach(space, found, slack) <= by_slack:
                return found, slack
        except KernelError:  # a line of positions, as in a groove of just the head's width, has no border
            continue
    return eased, OPENING_SLACK


def _entering(found: tuple[Stand, ...], core: Region) -> tuple[Stand, ...]:
    """The passes of a head that tapers in which its axis gets into the feature; all where none does: from beside it
    such a head would only nibble at its open ends, and nothing of what stands within is taken."""
    return tuple(s for s in found if overlap(s.free, core)) or found


def _reach(space: Space, stands: tuple[Stand, ...], slack: float) -> float:
    return sum(grow(s.free, space.head.radius - slack).area for s in stands)


def _joined(covers: list[tuple[Stand, Region]]) -> list[tuple[Stand, Region]]:
    """Neighbours that cover the same made one."""
    found: list[tuple[Stand, Region]] = []
    for stand, cover in covers:
        last = found[-1] if found else None
        if last and abs(last[1].area - cover.area) <= SAME_AREA * cover.area and last[0].high >= stand.low - COINCIDENT:
            found[-1] = (replace(last[0], high=stand.high), last[1])
        else:
            found.append((stand, cover))
    return found


def _bodies(
    scene: Scene,
    job: ResolvedStep,
    feature: Feature,
    space: Space,
    covers: list[tuple[Stand, Region]],
    slack: float,
    *,
    free: bool,
) -> tuple[Body, ...]:
    head = replace(space.head, radius=space.head.radius - slack)
    if free and _follows(scene, job, feature):
        low, high = covers[0][0].low, covers[-1][0].high + head.height
        column = prism(union(cover for _, cover in covers), scene.frame, low, high)
        found = [boolean.cut(column, [scene.part.body], merge=False)]
    else:
        found = [body for stands, cover in _stacked(head, covers) for body in _shaped(scene, head, cover, stands)]
    return tuple(body for body in found if not is_empty(body))


def _stacked(head: Head, covers: list[tuple[Stand, Region]]) -> list[tuple[list[Stand], Region]]:
    """Passes of a head that tapers that cover the same, one over the other, made one."""
    found: list[tuple[list[Stand], Region]] = []
    for stand, cover in covers:
        stands, below = found[-1] if found else ([], NOWHERE)
        if stands and head.steps(stands[-1].low, stand.low) and _alike(below, cover):
            stands.append(stand)
        else:
            found.append(([stand], cover))
    return found


def _alike(a: Region, b: Region) -> bool:
    """Whether two regions have the same corners, arcs between the same ones too."""
    return a.points.shape == b.points.shape and bool((np.abs(a.points - b.points) <= COINCIDENT).all())


def _shaped(scene: Scene, head: Head, cover: Region, stands: Sequence[Stand]) -> tuple[Body, ...]:
    """What the head sweeps over a region that it covers from all of several stands."""
    low, high = stands[0].low, stands[-1].high + head.height
    if len(stands) > 1:
        return swept(cover, scene.frame, low, high, head.stepped([s.low for s in stands]))
    if head.straight and head.corner > COINCIDENT:
        whole = rounded_both(cover, scene.frame, low, high, head.corner, scene.plan)
        if whole is not None:
            return (whole,)
    return swept(cover, scene.frame, low, high, head.outline(low, high))


def _follows(scene: Scene, job: ResolvedStep, feature: Feature) -> bool:
    """True when the head's form fits all walls of a groove, down to its floor: what is swept then ends on them."""
    step, head = job.step, head_of(job.tool)
    plain = step.bottom_z is None and not step.allowance_side and step.allowance_bottom <= 0
    shown = [scene.sky.shown[i] for i in feature.faces]
    bent = [s.index for s in shown if not s.flat]
    upright = any(s.look == "upright" for s in shown) and (head.corner > LENGTH or not head.straight)
    low = scene.heights(feature)[0]
    relieved = not head.straight and any(scene.sky.shown[i].low > low + LENGTH for i in bent)
    return plain and bool(bent) and not upright and not relieved and all(_fits(scene, head, i) for i in bent)


def _fits(scene: Scene, head: Head, index: int) -> bool:
    """A hollow face no tighter than the head's edge; an overhanging one of the flank's own slope."""
    if head.straight:
        radius = concave_radius(scene.part.body, index)
        return head.corner > LENGTH and radius is not None and radius >= head.corner - LENGTH
    slope = flank_of(scene.part.body, index, scene.frame)
    same = slope is not None and abs(90.0 - slope - head.flank) <= ANGLE
    return same and head.corner <= LENGTH and scene.sky.shown[index].look == "down"


def _kept_off(scene: Scene, space: Space, slack: float, tool: Tool | None = None) -> tuple[Section, ...]:
    """The sections without which the head would cover more, over the metal's rectangle: those of another ``tool``,
    where one is named."""
    plan = rectangle(*scene.plan)
    radius = space.head.radius - slack

    def covered(**counted: bool) -> float:
        return sum(intersect(grow(s.free, radius), plan).area for s in space.stands(slack, tool=tool, **counted))

    whole, no_shank, alone = covered(), covered(shanked=False), covered(necked=False, shanked=False)
    neck: tuple[Section, ...] = ("neck",) if alone > no_shank + SAME_AREA * plan.area else ()
    shank: tuple[Section, ...] = ("shank",) if no_shank > whole + SAME_AREA * plan.area else ()
    return (*neck, *shank)


def fitting(scene: Scene, job: ResolvedStep, feature: Feature, name: Literal["DN", "DMM", "LU"]) -> float | None:
    """The largest neck or shank diameter, or the least usable length, that keeps the head off nothing; None when
    there is none up to the head's own diameter, or to the top of the metal."""
    low = tip_height(job.step, scene.heights(feature)[0])[0]
    plan = _plan(scene, job, feature)
    space = Space(scene, job.tool, _limits(scene, job, feature, plan), plan.ground)
    section = "neck" if name == "DN" else "shank"

    def passes(value: float) -> bool:
        sized = job.tool.model_copy(update={name: value})
        return section not in _kept_off(scene, space, OPENING_SLACK, sized)

    good, bad = (0.0, job.tool.diameter) if name != "LU" else (scene.top - low, job.tool.usable_length)
    if not passes(max(good, FINE)):
        return None
    while abs(good - bad) > FINE:
        middle = (good + bad) / 2
        good, bad = (middle, bad) if passes(middle) else (good, middle)
    return good


def way_in(scene: Scene, job: ResolvedStep, feature: Feature) -> float | None:
    """The diameter of the widest head that gets into the feature, where the tool's own does not; None without any."""
    plan = _plan(scene, job, feature)
    good, bad = 0.0, job.tool.diameter
    while bad - good > FINE:
        middle = (good + bad) / 2
        slim = {"DC": middle, "DN": min(job.tool.neck_diameter, middle), "DMM": min(job.tool.shank_diameter, middle)}
        tool = job.tool.model_copy(update=slim)
        space = Space(scene, tool, _limits(scene, replace(job, tool=tool), feature, plan), plan.ground)
        good, bad = (middle, bad) if space.stands(OPENING_SLACK) else (good, middle)
    return good or None


def reached_area(scene: Scene, job: ResolvedStep, feature: Feature) -> float:
    """How much of the metal's rectangle the head covers, height by height (mm2): for comparing two scenes."""
    plan = _plan(scene, job, feature)
    space = Space(scene, job.tool, _limits(scene, job, feature, plan), plan.ground)
    metal, radius = rectangle(*scene.plan), space.head.radius - OPENING_SLACK
    return sum(intersect(grow(s.free, radius), metal).area for s in space.stands(OPENING_SLACK))


def _why(job: ResolvedStep, feature: Feature, kept_off: tuple[Section, ...]) -> str:
    """What keeps the cutter out, in words."""
    names = " and ".join(kept_off) or "head"
    return f"The {names} of {job.tool.id} does not go into {feature.id}."
