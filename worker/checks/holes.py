"""Which hole a step works on, and with what diameter: shared by the rules on holes."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

from schemas.base import Vec3
from schemas.feature import HOLES, Feature
from schemas.plan import DRILLING
from schemas.threads import Thread
from schemas.tolerances import LENGTH
from schemas.tool import MILLS
from worker.checks.api import Context
from worker.kernel import measure
from worker.kernel.shape import Body, solids
from worker.stage.model import Cut, Plunge, Stage

HOLE_MAKING = DRILLING | {"boring", "reaming", "back_boring"}
"""Operations that leave a cylinder of the tool's diameter."""


@dataclass(frozen=True)
class Pass:
    """One step at one hole. ``diameter`` is what it leaves (mm); ``plunge`` is None for a milling cutter."""

    stage: Stage
    cut: Cut
    hole: Feature
    diameter: float
    plunge: Plunge | None

    @property
    def at(self) -> Vec3:
        """A point of the hole in the part's frame."""
        return self.plunge.centre if self.plunge else self.hole.placement.location


def opens_axis(one: Pass) -> bool:
    """Whether a piece of what the step takes lies round the hole's axis: a sliver beside it, off a wall that the hole
    cuts into, guides nobody."""
    return is_round_axis(one.stage, one.cut.removal, one.at)


def is_round_axis(stage: Stage, body: Body, at: Vec3) -> bool:
    """Whether a piece of a body lies on all sides of an axis along the setup's Z through a point, by its box."""
    x, y, _ = stage.frame.to_local(at)
    boxes = (measure.bounding_box(piece, stage.frame) for piece in solids(body))
    return any(_amid(b.min[0], x, b.max[0]) and _amid(b.min[1], y, b.max[1]) for b in boxes)


def _amid(low: float, value: float, high: float) -> bool:
    return low + LENGTH < value < high - LENGTH


def makes_cylinder(cut: Cut) -> bool:
    """True for a step that leaves a cylindrical hole: drilling, reaming, boring, a counterbore tool, milling."""
    if cut.step.operation == "counter_sinking":
        return cut.tool.type == "counterbore"
    return cut.step.operation in HOLE_MAKING or cut.tool.type in MILLS


@dataclass(frozen=True)
class _Known:
    """The passes of a plan's steps, by step, and by hole with their place in the order of machining."""

    sequence: tuple[tuple[Stage, Cut], ...]
    of: Mapping[int, tuple[Pass, ...]]
    at: Mapping[str, Sequence[tuple[int, Pass]]]


def _known(context: Context) -> _Known:
    """Found once for a context; one that was given other steps looks anew."""
    found: _Known | None = context.memory.get("passes")
    if found is None or found.sequence is not context.sequence:
        found = context.memory["passes"] = _looked_up(context)
    return found


def _looked_up(context: Context) -> _Known:
    of = {id(cut): _passes(context, stage, cut) for stage, cut in context.sequence}
    at: dict[str, list[tuple[int, Pass]]] = {}
    for place, one in enumerate(p for _, cut in context.sequence for p in of[id(cut)]):
        at.setdefault(one.hole.id, []).append((place, one))
    return _Known(context.sequence, of, at)


def passes_of(context: Context, stage: Stage, cut: Cut) -> tuple[Pass, ...]:
    """The holes that a step works on; empty for a step that names none."""
    return _known(context).of[id(cut)]


def _passes(context: Context, stage: Stage, cut: Cut) -> tuple[Pass, ...]:
    if cut.plunges:
        return tuple(Pass(stage, cut, _meant(context, cut, p), p.diameter, p) for p in cut.plunges)
    return tuple(_milled(context, stage, cut))


def _meant(context: Context, cut: Cut, plunge: Plunge) -> Feature:
    """The hole that a plunge is for: of a compound that the step names, the element that suits the tool."""
    named = [f for f in cut.features if plunge.feature in f.elements]
    return target(context, named[0] if named else context.part.feature(plunge.feature), cut)


def _milled(context: Context, stage: Stage, cut: Cut) -> Iterator[Pass]:
    if cut.tool.type not in MILLS:
        return
    for feature in cut.features:
        if feature.class_ not in HOLES:
            continue
        for hole in elements(context, feature):
            if hole.diameter is not None:
                yield Pass(stage, cut, hole, hole.diameter - 2 * cut.step.allowance_side, None)


def elements(context: Context, feature: Feature) -> tuple[Feature, ...]:
    """The elements of a compound; any other feature is its own."""
    return tuple(context.part.feature(id) for id in feature.elements) or (feature,)


def target(context: Context, feature: Feature, cut: Cut) -> Feature:
    """The round hole of a compound that a tool on its axis is meant for; a round hole is its own."""
    elements = [context.part.feature(id) for id in feature.elements]
    if feature.class_ == "round_hole" or not elements:
        return feature
    cones = [e for e in elements if e.top_diameter is not None]
    if cut.tool.type in ("countersink", "chamfer_mill", "spotdrill") and cones:
        return cones[0]
    screw = cut.tool.screw if cut.step.operation == "tapping" else None
    wanted = (screw.minor, screw.major) if screw else (cut.tool.diameter,)
    plain = [e for e in elements if e.top_diameter is None] or elements
    return min(plain, key=lambda e: min(abs((e.diameter or 0.0) - x) for x in wanted))


def all_passes(context: Context) -> tuple[Pass, ...]:
    """Every step at every hole, in the order of machining."""
    known = _known(context)
    return tuple(p for _, cut in known.sequence for p in known.of[id(cut)])


def passes_in(context: Context, holes: Collection[str]) -> tuple[Pass, ...]:
    """Every step at some holes, by their ids, in the order of machining."""
    at = _known(context).at
    found = [one for hole in holes for one in at.get(hole, ())]
    return tuple(one for _, one in sorted(found, key=lambda placed: placed[0]))


def passes_at(context: Context, hole: Feature) -> tuple[Pass, ...]:
    """The steps that leave a cylinder in this very hole, in the order of machining."""
    return tuple(p for p in passes_in(context, (hole.id,)) if makes_cylinder(p.cut))


def tap_of(context: Context, hole: Feature) -> Pass | None:
    """The step that taps the hole, if one does."""
    return next((p for p in passes_in(context, (hole.id,)) if p.cut.step.operation == "tapping"), None)


def thread_of(context: Context, hole: Feature) -> Thread | None:
    """The thread that some step of the plan cuts in this hole."""
    found = tap_of(context, hole)
    return found.cut.tool.screw if found else None


def under_thread(context: Context, tap: Pass) -> tuple[Pass, ...]:
    """The steps that make the hole under a thread: in it, or in a smaller element of its compound."""
    family = context.family(tap.hole.id)
    wide = (tap.hole.diameter or 0.0) + 1e-6
    return tuple(p for p in passes_in(context, family) if (p.hole.diameter or 0.0) <= wide and makes_cylinder(p.cut))


def tool_word(cut: Cut) -> str:
    """The trade's word for the tool, with its id."""
    words = {
        "twist_drill": "drill",
        "reaming_cutting_tool": "reamer",
        "rotating_boring_cutting_tool": "boring tool",
        "tapping_cutting_tool": "tap",
        "spotdrill": "spot drill",
        "endmill": "end mill",
        "facemill": "face mill",
        "bullnose_endmill": "bull-nose cutter",
        "ballnose_endmill": "ball-nose cutter",
        "shouldermill": "shoulder mill",
    }
    return f"{words.get(cut.tool.type, cut.tool.type.replace('_', ' '))} {cut.tool.id}"


def sentence(text: str) -> str:
    """The text with a capital first letter, the rest as it is."""
    return text[:1].upper() + text[1:]
