"""Moments with which a cut turns or tips the stock, against what friction, clamps and weight hold: upper bounds, so
that what is told fails whatever share each contact takes (N mm, setup's frame)."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from schemas.base import Vec3, dot
from worker.checks.api import Context
from worker.checks.hold._contacts import SQUARE, jaw_patches, patches_of
from worker.checks.hold._friction import Press, clamping_force, friction, presses
from worker.checks.hold._loads import flat
from worker.checks.hold._pushing import stands_against, touching
from worker.checks.hold._resting import support_outline
from worker.checks.hold._support import Point2
from worker.kernel import measure
from worker.kernel.resting import corners_of
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Jaws, Stage

GRAVITY = 9.81
"""m/s2."""


@dataclass(frozen=True)
class Moment:
    """What a cut asks and what holds at most, safety not counted (N mm); ``words`` say what the cut does, ``lever``
    (mm) is that of its force, ``at`` where it acts."""

    words: str
    asked: float
    held: float
    lever: float
    at: Vec3 | None


def moments(context: Context, stage: Stage, cut: Cut, force: float) -> Iterator[Moment]:
    """Of a side force (N): out of the jaws along and across them; of a fixture about its clamps and over its edge."""
    jaws = stage.holding.jaws
    if jaws is not None:
        yield from _out_of_the_jaws(context, stage, cut, jaws, force)
    elif stage.holding.kind == "fixture_plate":
        yield from _about_the_clamps(context, stage, cut, force)
        yield from _over_the_edge(context, stage, cut, force)


def height_of_pass(cut: Cut) -> float:
    """Height of the middle of the highest pass."""
    axial = cut.step.technology.axial_cutting_depth or 0.0
    return cut.entry_z - min(axial, max(cut.entry_z - cut.tip_z, 0.0)) / 2


def place_of(cut: Cut) -> Vec3 | None:
    """A point in the metal that the step takes; None where it takes none."""
    return None if is_empty(cut.removal) else measure.centroid(cut.removal)


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


def _out_of_the_jaws(context: Context, stage: Stage, cut: Cut, jaws: Jaws, force: float) -> Iterator[Moment]:
    """Along the jaws friction holds at the ends of the contact at most. Across them the stock turns over one jaw's top
    edge: the other presses at the grip's lower end at most, and its friction holds over the opening."""
    clamped, mu, arm = clamping_force(context, stage), friction(context.plan, stage), half_contact(context, stage)
    lever = height_of_pass(cut) - (jaws.support_z + jaws.grip / 2)
    if arm is not None and lever > 0:
        words = f"the cut, {context.text(lever)} above the middle of the grip, turns the part out of the jaws"
        yield Moment(words, force * lever, 2 * mu * clamped * arm, lever, place_of(cut))
    over = height_of_pass(cut) - jaws.top_z
    if arm is not None and over > 0:
        words = f"the cut, {context.text(over)} above the jaws, tips the part over a jaw's edge"
        yield Moment(words, force * over, clamped * (jaws.grip + mu * jaws.opening), over, place_of(cut))


def torsion(context: Context, stage: Stage, cut: Cut, torque: float, thrust: float) -> Moment | None:
    """Of a tool on its axis (torque N m, thrust N) on a fixture: it turns the stock about its clamps."""
    found, plunge = presses(context, stage), cut.plunges[0] if cut.plunges else None
    if not found or plunge is None:
        return None
    centre = _centre(context, stage, found)
    below = friction(context.plan, stage) * thrust * math.dist(flat(stage, plunge.centre), centre)
    held = _friction_about(context, stage, found, centre) + below
    return Moment("the tool turns the part about its clamps", 1000 * torque, held, 0.0, plunge.centre)


def _about_the_clamps(context: Context, stage: Stage, cut: Cut, force: float) -> Iterator[Moment]:
    """Round the middle of the clamping forces; any other centre lets it turn no later."""
    found, corners = presses(context, stage), corners_of(cut.removal)
    if found and corners:
        centre = _centre(context, stage, found)
        far = max(corners, key=lambda p: math.dist(flat(stage, p), centre))
        lever = math.dist(flat(stage, far), centre)
        words = f"the cut, {context.text(lever)} from the middle of the clamps, turns the part about them"
        yield Moment(words, force * lever, _friction_about(context, stage, found, centre), lever, far)


def _over_the_edge(context: Context, stage: Stage, cut: Cut, force: float) -> Iterator[Moment]:
    """Over each edge of what the stock stands on that nothing stands against, clamps that press down and weight
    against it."""
    found, outline = presses(context, stage), support_outline(context, stage)
    lever = height_of_pass(cut) - stage.holding.support_z
    down = [(one.force or 0.0, spots) for one in found if (spots := _spots(context, stage, one, down=True))]
    if not found or len(outline) < 3 or lever <= 0 or len(down) < len(found):
        return
    weight = (_weight(context, stage), [flat(stage, measure.centroid(stage.as_is))])
    free = [edge for edge in pairwise((*outline, outline[0])) if not _leans(context, stage, edge)]
    held = min(
        (sum(f * max(0.0, *(_inside(edge, p) for p in spots)) for f, spots in (*down, weight)) for edge in free),
        default=math.inf,
    )
    words = f"the cut, {context.text(lever)} above what the part stands on, tips it over its edge"
    yield Moment(words, force * lever, held, lever, place_of(cut))


def _leans(context: Context, stage: Stage, edge: tuple[Point2, Point2]) -> bool:
    """Whether a locator, or anything else beside the stock, stands against a push over the edge."""
    (ax, ay), (bx, by) = edge
    push = stage.frame.direction_to_world(((by - ay) / math.dist(*edge), (ax - bx) / math.dist(*edge), 0.0))
    return any(stands_against(context, stage, body, push) for body in touching(context, stage))


def _weight(context: Context, stage: Stage) -> float:
    """Weight of the stock in N; 0 where the plan states no density."""
    material = context.plan.workpiece.material
    density = (material.density_kg_m3 if material else None) or 0.0
    return measure.volume(stage.as_is) * 1e-9 * density * GRAVITY


def _inside(edge: tuple[Point2, Point2], p: Point2) -> float:
    """How far within a counter-clockwise outline's edge a point lies; negative outside."""
    (ax, ay), (bx, by) = edge
    return ((bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax)) / (math.dist(*edge) or 1.0)


def _centre(context: Context, stage: Stage, found: tuple[Press, ...]) -> Point2:
    """The middle of the clamping forces."""
    pairs = [(one.force or 0.0, spots) for one in found if (spots := _spots(context, stage, one))]
    total = sum(force for force, _ in pairs) or 1.0
    x, y = (sum(f * sum(p[k] for p in spots) / len(spots) for f, spots in pairs) / total for k in (0, 1))
    return x, y


def _friction_about(context: Context, stage: Stage, found: tuple[Press, ...], centre: Point2) -> float:
    """Friction of the clamps and of what stands against them, at the farthest point of each contact."""
    mu, held = friction(context.plan, stage), 0.0
    for one in found:
        spots = _spots(context, stage, one)
        held += 2 * mu * (one.force or 0.0) * max((math.dist(p, centre) for p in spots), default=0.0)
    return held


def _spots(context: Context, stage: Stage, one: Press, *, down: bool = False) -> list[Point2]:
    """Points that span where a clamp meets the stock, in plan; ``down``: on faces that look up alone."""
    met = [p for p in patches_of(context, stage, one.body) if not down or dot(p.normal, stage.frame.z) >= 1 - SQUARE]
    return [flat(stage, q) for p in met for q in (*p.points, p.inside)]
