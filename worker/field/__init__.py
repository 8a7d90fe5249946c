"""The second opinion: the same plan carried on a tri-dexel field, with no solid model in between.

It shares the plan, the features' names and sizes, and triangles of part, blank and workholding with the solid
model. How a step is read and what it takes away is worked out here once more, by other means.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from schemas.feature import HOLES
from schemas.plan import SetupPlan, StepFile
from schemas.tolerances import LENGTH
from schemas.tool import MILLS, UNDERCUTTERS
from worker.field.arcs import circles_through
from worker.field.blank import stated_blank
from worker.field.bound import ROUNDING, Facts, best_axis, chord_error, facts_of, stops
from worker.field.closer import compare, has_gaps
from worker.field.field import Field, Mesh, Solid, fill
from worker.field.lattice import Lattice, make_lattice
from worker.field.lines import Floats
from worker.field.opinion import Opinion
from worker.field.reached import Nearly
from worker.field.scene import UPRIGHT, Scene
from worker.field.silhouettes import with_silhouettes
from worker.field.solids import Layers, Stack, Turned, as_one
from worker.field.stated import extents_of, stated_planes
from worker.field.stock import Stock
from worker.field.sweeps import sweep
from worker.field.triangles import CHORD, Triangles, upright
from worker.field.view import View, view_of
from worker.kernel import measure
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.stage.model import Cut, Stage

__all__ = ["Opinion", "second_opinion"]

DECIMALS = 3
"""Of a field's volume (mm3): far below its bound, and above what the order of a sum changes."""
CELL = 0.25
"""Cell size (mm) where the metal is small enough."""
MOST_LINES = 420_000
"""Lines of all three sets together: larger metal gets larger cells, and a wider bound."""
BLANK_CHORD = 0.002
"""The same of blanks: few faces, and all of their area may still be there."""
CLOSE_CHORD = 0.0015
"""The same of a stage's own solid where its lines are compared."""
CLOSE_CHORDS = (CLOSE_CHORD, CLOSE_CHORD / 4)
"""Those that are tried for it in turn."""
CLOSE = 2e-5
"""Share of the volume that neither is sure of line by line: slack of cutters, corners, lines on a wall."""
WIDE = 3e-4
"""Share of the volume above which a bound is too wide to rest a verdict on: the lines themselves are compared then."""
SUSPECT = 6e-5
"""Share of the volume by which sound computations seldom differ: more than that is looked at line by line too."""


@dataclass(frozen=True)
class Ground:
    """What all setups of one plan share: the lattice with its cell size, the axis that sees best, what cells and
    chords may be off (mm3)."""

    lattice: Lattice
    h: float
    axis: int
    sampling: float
    chords: float


@dataclass(frozen=True)
class Carried:
    """What is known after a setup: the field's metal, what it may be off (mm3), what it says of the setup.

    ``stocks`` and ``stairs`` by the lines along x, y and z. The next setup goes on with the stocks themselves.
    """

    stocks: tuple[Stock, Stock, Stock]
    doubt: float
    missed: float
    stairs: tuple[float, float, float]
    opinion: Opinion


Keep = Callable[[int, Ground, Callable[[], Carried]], Carried]
"""Gives what is known after setup n on a ground: what somebody kept, or what the given call computes."""


def _computed(number: int, ground: Ground, compute: Callable[[], Carried]) -> Carried:
    return compute()


def second_opinion(
    plan: SetupPlan, part: Part, stages: Sequence[Stage], cell: float = CELL, keep: Keep = _computed
) -> tuple[Opinion, ...]:
    """Each setup's volume by the field beside the solid's, in order."""
    if not stages:
        return ()
    known = Triangles(part=part.body)
    lattice, facts, h = _lattice(part, stages, known, cell)
    blanks = [stated_blank(plan, number) for number in range(len(stages))]
    meshed = [facts[k] for k, number in enumerate(_starts(stages), 1) if blanks[number] is None]
    ground = Ground(lattice, h, *_error(part, facts, meshed, stages, h, known))
    found: list[Opinion] = []
    last: Carried | None = None
    for number, stage in enumerate(stages):
        before = last if _carries(plan, number) else None
        last = keep(number, ground, partial(_carry, part, stage, ground, known, before or blanks[number]))
        found.append(last.opinion)
    return tuple(found)


def _carry(part: Part, stage: Stage, ground: Ground, known: Triangles, start: Carried | Turned | None) -> Carried:
    """One setup: its solids taken off the field that the setup before left, the stated blank, or its as-is solid."""
    lattice, before = ground.lattice, start if isinstance(start, Carried) else None
    field = Field(lattice, before.stocks) if before else fill(lattice, [_blank(stage, known, start)])
    taken = _take(field, part, stage, known)
    doubt = (before.doubt if before else 0.0) + taken.doubt
    stairs = _stairs(taken.solids, before.stairs if before else (0.0, 0.0, 0.0))
    missed = (before.missed if before else 0.0) + taken.missed
    rounding = ROUNDING * measure.volume(stage.to_be) + LENGTH
    bound = ground.sampling + missed + ground.chords + doubt + rounding + stairs[ground.axis]
    opinion = _opinion(stage, field, ground.axis, bound, ground.h)
    doubtful = not opinion.agrees or opinion.relative_bound > WIDE or opinion.relative_difference > SUSPECT
    if stage.result.known and doubtful:
        opinion = _closer(opinion, stage, field, ground.chords + doubt + rounding, stairs, known)
    borrowed = taken.borrowed
    if borrowed and stage.result.known and opinion.agrees and view_of(stage.frame) is None:
        opinion, borrowed = _tilted(part, stage, ground.h) or (opinion, borrowed)
    unswept = tuple(c.step.id for c in stage.cuts if not c.swept_known and c.step.id in borrowed)
    told = replace(opinion, carried=before is not None, borrowed=borrowed, unswept=unswept)
    return Carried(field.stocks, doubt, missed, stairs, told)


def _tilted(part: Part, stage: Stage, h: float) -> tuple[Opinion, tuple[str, ...]] | None:
    """A tilted setup on a lattice turned with it: its own sweeps, off the metal that the carried field agreed on.

    The carried field lies along the part's axes, where these sweeps can only be borrowed: it proves the boolean, this
    one the sweeps. Returned with the steps that are borrowed here too; None where triangles with gaps tell nothing.
    """
    known, frame = Triangles(stage.frame), stage.frame
    part, stage = upright(part, stage)
    known.both(stage.as_is, CLOSE_CHORD)
    lattice, facts, h = _lattice(part, [stage], known, h)
    field = fill(lattice, [Mesh(known.of(stage.as_is))])
    taken = _take(field, part, stage, known)
    _, _, chords = _error(part, facts, (), [stage], h, known)
    chords += chord_error(facts[1].rounds, CLOSE_CHORD)
    rounding = ROUNDING * measure.volume(stage.to_be) + LENGTH
    method = f"tri-dexel field of {h:.3g} mm cells turned with the setup"
    alone = Opinion(stage.setup.id, measure.volume(stage.to_be), 0.0, 0.0, method)
    stairs = _stairs(taken.solids, (0.0, 0.0, 0.0))
    opinion = _closer(alone, stage, field, chords + taken.doubt + rounding, stairs, known)
    if opinion is alone:
        return None
    return replace(opinion, at=frame.to_world(opinion.at) if opinion.at else None), taken.borrowed


@dataclass(frozen=True)
class _Taken:
    """What the steps of a setup took off a field: the solids, how far they may be off (mm3), what lines miss of them,
    and the steps whose sweep comes from the solid model."""

    solids: Sequence[Solid]
    doubt: float
    missed: float
    borrowed: tuple[str, ...]


def _take(field: Field, part: Part, stage: Stage, known: Triangles) -> _Taken:
    solids, borrowed = _solids(stage, part, field.lattice, known)
    field.cut([*solids, *(Mesh(known.of(piece)) for piece in stage.loose)])
    unsure = [s.doubt(s.view.top_of(field.lattice)) for s in solids if isinstance(s, Layers | Nearly)]
    doubt = sum(sure for sure, _ in unsure) + _borrowed_chords(stage, borrowed, known)
    return _Taken(solids, doubt, sum(lost for _, lost in unsure), borrowed)


def _blank(stage: Stage, known: Triangles, stated: Carried | Turned | None) -> Solid:
    return stated if isinstance(stated, Turned) else Mesh(known.of(stage.as_is))


def _stairs(solids: Sequence[Solid], before: tuple[float, float, float]) -> tuple[float, float, float]:
    """What each set of lines sees as stairs, with what it saw before (mm3)."""
    found = list(before)
    for stack in (s for s in solids if isinstance(s, Stack)):
        found[stack.view.axes[2]] += stack.stairs
    return found[0], found[1], found[2]


def _carries(plan: SetupPlan, number: int) -> bool:
    stated = plan.setups[number].as_is
    return number > 0 and not isinstance(stated, StepFile) and stated != "rawpiece"


def _starts(stages: Sequence[Stage]) -> list[int]:
    """The setups that start from metal of their own."""
    return [n for n, s in enumerate(stages) if n == 0 or s.as_is is not stages[n - 1].to_be]


def _lattice(
    part: Part, stages: Sequence[Stage], known: Triangles, cell: float
) -> tuple[Lattice, tuple[Facts, ...], float]:
    """The lattice over all metal, with borders in the planes of part and blanks."""
    bodies = [part.body, *(stages[n].as_is for n in _starts(stages))]
    facts = tuple(facts_of(*known.both(body, CHORD if body is part.body else BLANK_CHORD)) for body in bodies)
    boxes = [known.box(body) for body in bodies]
    low, high = np.min([b.min for b in boxes], axis=0), np.max([b.max for b in boxes], axis=0)
    size = high - low
    area = float(size[0] * size[1] + size[1] * size[2] + size[2] * size[0])
    h = max(cell, float(np.sqrt(area / MOST_LINES)))
    planes = stops(facts, h)
    extents = extents_of(*known.both(part.body))
    for stage in stages:
        view = view_of(stage.frame)
        for axis, at in stated_planes(_deciding(stage), view, extents) if view is not None else ():
            planes[axis].append(at)
    return make_lattice(low, high, planes, h), facts, h


def _deciding(stage: Stage, leaning: Collection[int] = ()) -> tuple[Cut, ...]:
    """The steps of a setup without those that a later one sweeps over entirely. Over ``leaning`` faces of the part none
    does: there each goes down in passes of its own, and a finer one gets lower between those of the other."""
    cuts = stage.cuts

    def again(number: int, rough: Cut) -> bool:
        if rough.tool.type not in MILLS or any(face in leaning for f in rough.features for face in f.faces):
            return False
        return any(_swept_again(rough, later) for later in cuts[number + 1 :])

    return tuple(cut for number, cut in enumerate(cuts) if not again(number, cut))


def _leaning(scene: Scene) -> frozenset[int]:
    """The faces of the part that look up and are not level."""
    leaning = (scene.looks > UPRIGHT) & (scene.looks < 1 - UPRIGHT)
    return frozenset(np.unique(scene.owner[leaning]).tolist())


def _solids(stage: Stage, part: Part, lattice: Lattice, known: Triangles) -> tuple[list[Solid], tuple[str, ...]]:
    """What each step takes; ids of the steps whose swept body comes from the solid model."""
    view = view_of(stage.frame)
    scene = _scene(stage, part, lattice, known, view) if view is not None else None
    solids: list[Solid] = []
    borrowed = []
    for cut in _deciding(stage, _leaning(scene)) if scene is not None else stage.cuts:
        own = sweep(scene, part, cut) if scene is not None else None
        if own is not None:
            solids += own
            continue
        borrowed.append(cut.step.id)
        if not is_empty(cut.swept):
            solids.append(Mesh(known.of(cut.swept)))
    turned = [solid for solid in solids if isinstance(solid, Turned)]
    return [*(s for s in solids if not isinstance(s, Turned)), *as_one(turned)], tuple(borrowed)


def _swept_again(rough: Cut, later: Cut) -> bool:
    """True when a later step of the setup sweeps all that this mill's does: same ground, no larger, no less deep."""
    a, b = rough.step, later.step
    if a.overcut_length > b.overcut_length:
        return False
    if UNDERCUTTERS & {rough.tool.type, later.tool.type}:  # a head takes what no straight cutter does
        return False
    if later.tool.type not in MILLS:
        return _bored_again(rough, later)
    deep = (a.bottom_z is None and b.bottom_z is None) or (a.bottom_z is not None and a.bottom_z == b.bottom_z)
    return (
        deep
        and {f.id for f in rough.features} <= {f.id for f in later.features}
        and rough.tool.radius >= later.tool.radius
        and rough.tool.corner_radius >= later.tool.corner_radius == 0.0
        and a.allowance_side >= b.allowance_side
        and a.allowance_bottom >= b.allowance_bottom
    )


def _bored_again(rough: Cut, later: Cut) -> bool:
    """True when a hole that is milled smaller is bored or reamed to its bottom later."""
    a, b = rough.step, later.step
    if len(rough.features) != 1 or a.bottom_z is not None or b.bottom_z is not None or b.cutting_depth is not None:
        return False
    hole = rough.features[0]
    return (
        hole in later.features
        and not hole.elements
        and b.operation in ("boring", "reaming")
        and later.tool.point_length == 0.0
        and later.tool.diameter >= (hole.diameter or np.inf) - 2 * a.allowance_side
        and a.allowance_bottom >= b.allowance_bottom
    )


def _scene(stage: Stage, part: Part, lattice: Lattice, known: Triangles, view: View) -> Scene:
    triangles, owner = known.both(part.body)
    metal = np.array([[b[0] for b in lattice.borders], [b[-1] for b in lattice.borders]])
    corners = view.to_setup(metal)
    low, high = corners.min(axis=0), corners.max(axis=0)
    held = [view.to_setup(known.of(b.body)) for b in stage.holding.bodies]
    room = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    seen, owner = with_silhouettes(view.to_setup(triangles), owner)
    return Scene(
        view, lattice, seen, owner, np.concatenate([np.zeros((0, 3, 3)), *held]), room, float(high[2]) + 1.0,
        _deepest(stage, seen, owner),
    )  # fmt: skip


def _deepest(stage: Stage, triangles: Floats, owner: NDArray[np.int32]) -> float:
    """The lowest height of what the setup mills (setup's frame)."""
    mine = np.zeros(int(owner.max(initial=-1)) + 1, bool)
    mine[[face for cut in stage.cuts if cut.tool.type in MILLS for f in cut.features for face in f.faces]] = True
    return float(triangles[mine[owner]][:, :, 2].min(initial=np.inf)) - LENGTH


def _error(
    part: Part, facts: tuple[Facts, ...], meshed: Sequence[Facts], stages: Sequence[Stage], h: float, known: Triangles
) -> tuple[int, float, float]:
    """The axis whose lines see best, how far their cells can be off, and what chords can (of ``meshed`` blanks).

    Holes are turned exactly, and walls that run along a setup's axis follow their arcs: not those of ellipses and free
    forms.
    """
    axis, error = best_axis([r for fact in facts for r in fact.rounds], h)
    views = [view_of(stage.frame) for stage in stages]
    exact = {i for f in part.features if f.class_ in HOLES for i in f.faces}
    first = facts[0]
    for axis_of_setup in {view.axes[2] for view in views if view is not None}:
        exact |= {r.index for r in first.rounds if r.along[axis_of_setup]} & _on_circles(part, known, axis_of_setup)
    chords = chord_error(first.rounds, CHORD, exact) + sum(chord_error(o.rounds, BLANK_CHORD) for o in meshed)
    return axis, error, chords


def _on_circles(part: Part, known: Triangles, axis: int) -> set[int]:
    """The faces of the part that stand on one circle each, seen along an axis."""
    triangles, owner = known.both(part.body)
    faces, number = np.unique(owner, return_inverse=True)
    circles = circles_through(np.delete(triangles, axis, axis=2).reshape(-1, 2), np.repeat(number.ravel(), 3))
    return set(faces[np.isfinite(circles[:, 2])].tolist())


def _borrowed_chords(stage: Stage, borrowed: tuple[str, ...], known: Triangles) -> float:
    """What the chords of swept bodies that were taken over cut off."""
    bodies = [c.swept for c in stage.cuts if c.step.id in borrowed and not is_empty(c.swept)]
    return sum(chord_error(facts_of(*known.both(body)).rounds, CHORD) for body in bodies)


def _opinion(stage: Stage, field: Field, axis: int, bound: float, h: float) -> Opinion:
    """The volume by the set of lines that sees the round faces best."""
    found, solid = round(field.volume(axis), DECIMALS), measure.volume(stage.to_be)
    method = f"tri-dexel field of {h:.3g} mm cells, lines along {'xyz'[axis]}"
    return Opinion(stage.setup.id, solid, found, bound, method)


def _closer(
    opinion: Opinion, stage: Stage, field: Field, bound: float, stairs: Sequence[float], known: Triangles
) -> Opinion:
    """The same by the solid's own lines on the same lattice: the cells' size cancels, and single lumps show.

    Through gaps in its triangles lines see nothing that counts: then there is no closer look.
    """
    bound += CLOSE * opinion.solid_volume
    triangles, chords = _without_gaps(stage.to_be, known, bound)
    if triangles is None:
        return opinion
    bound += chords
    apart = compare(field, triangles, stairs)
    return replace(
        opinion,
        field_volume=round(opinion.solid_volume + apart.most, DECIMALS),
        bound=bound,
        method=f"{opinion.method.partition(',')[0]}, line by line beside the solid's",
        at=apart.at if abs(apart.most) > bound else None,
    )


def _without_gaps(body: Body, known: Triangles, bound: float) -> tuple[Floats | None, float]:
    """Triangles of a body that have no gaps, and what their chords cut off (mm3): where the kernel leaves out a part of
    a face with chords of one length, as it may of narrow ledges, with finer ones it seldom does. None where it does."""
    for chord in CLOSE_CHORDS:
        triangles, owner = known.anew(body, chord)
        error = chord_error(facts_of(triangles, owner).rounds, chord)
        if not has_gaps(triangles, bound + error):
            return triangles, error
    return None, 0.0
