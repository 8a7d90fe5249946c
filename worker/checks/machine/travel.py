"""machine.travel: the setup needs more travel than the machine states."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from schemas.base import Vec3, dot
from schemas.finding import Remedy
from schemas.problem import json_pointer
from schemas.tolerances import LENGTH, TOUCH
from schemas.tool import MILLS, UNDERCUTTERS
from worker.checks.api import Context, Draft, Skip, rule
from worker.kernel import measure
from worker.kernel.shape import faces, is_empty
from worker.stage.model import Cut, Stage

Span = tuple[float, float]


@rule(
    "machine.travel",
    scope="stage",
    metal="here",
    facets=True,
    why="An axis at its end stops the program in the middle of the job.",
    reference="ISO 841 axes; the machine's own travel as the plan states it",
)
def travel(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """The least travel that the cuts need: a lower bound, so that nothing is told that would run."""
    limits = context.plan.machine.travel if context.plan.machine else None
    cuts = [c for c in stage.cuts if not is_empty(c.removal)]
    if limits is None or not cuts:
        yield Skip("the plan states no travel of the machine" if limits is None else "nothing is cut in this setup")
        return
    if all(b - a <= most for (a, b), most in zip(_bounds(stage, cuts), limits, strict=True)):
        return
    spans = [span for cut in cuts for span in (_centres(stage, cut), *_beside_walls(context, stage, cut))]
    ends = [(min(s[i][0] for s in spans), max(s[i][1] for s in spans)) for i in range(3)]
    needed = [high - low for low, high in ends]
    for number in (i for i in range(3) if needed[i] > limits[i]):
        far = max(cuts, key=lambda cut: _centres(stage, cut)[number][1])
        yield Draft(
            message=f"The cuts need {context.text(needed[number])} of travel along {'XYZ'[number]}; the machine has "
            f"{context.text(limits[number])}.",
            measured=needed[number],
            limit=limits[number],
            unit="mm",
            at=stage.frame.to_world(measure.bounding_box(far.removal, stage.frame).mid),
            remedy=_remedy(context, stage, number, needed, limits),
        )


def _remedy(context: Context, stage: Stage, number: int, needed: Sequence[float], limits: Sequence[float]) -> Remedy:
    """A quarter turn where that fits; else the travel that the machine must have."""
    if number < 2 and needed[0] <= limits[1] and needed[1] <= limits[0]:
        x, y, z = (round(c, 6) + 0.0 for c in stage.frame.y)
        text = f"Turn the setup by a quarter: ref_direction [{x:g}, {y:g}, {z:g}], and what holds the stock with it."
        return Remedy(text=text, pointer=context.of_setup(stage, "origin", "ref_direction"))
    other = "Cut it in two setups" if number < 2 else "Use shorter tools and holders"
    return Remedy(
        text=f"{other}, or a machine with {context.text(needed[number])} of travel along {'XYZ'[number]}.",
        pointer=json_pointer(("machine", "travel", number)),
        value=needed[number],
        unit="mm",
    )


def _bounds(stage: Stage, cuts: Sequence[Cut]) -> Iterator[Span]:
    """No centre line and no spindle nose is asked to go beyond these: a radius off what is cut, beside a wall."""
    for number in range(3):
        ends: list[float] = []
        for cut in cuts:
            box, aside = measure.bounding_box(cut.removal, stage.frame), cut.tool.radius + 2 * TOUCH
            around = (box.min[number] - aside, box.max[number] + aside)
            ends += around if number < 2 else _centres(stage, cut)[2]
        yield (min(ends), max(ends))


def _centres(stage: Stage, cut: Cut) -> tuple[Span, Span, Span]:
    """Where the tool's centre line and the spindle nose surely go (setup's frame): X, Y, Z."""
    box = measure.bounding_box(cut.removal, stage.frame)
    flat = [_narrowed(box.min[i], box.max[i], cut.tool.radius) for i in (0, 1)]
    gauge = cut.tool.stickout + sum(section.length for section in cut.tool.holder)
    return (flat[0], flat[1], (cut.lowest_tip + gauge, max(cut.entry_z, cut.tip_z) + gauge))


def _beside_walls(context: Context, stage: Stage, cut: Cut) -> Iterator[tuple[Span, Span, Span]]:
    """Where the centre stands to cut metal right beside an upright wall without going into it: a radius off it."""
    if cut.tool.type not in MILLS - UNDERCUTTERS or cut.plunges:
        return
    walls = faces(context.part.body)
    height = _centres(stage, cut)[2]
    for index in sorted({i for feature in cut.features for i in feature.faces}):
        at = measure.face_point_inside(walls[index])
        out = measure.face_normal(walls[index], at)
        if abs(dot(out, stage.frame.z)) <= LENGTH and measure.contains(cut.removal, _off(at, out, TOUCH)) == "in":
            x, y, _ = stage.frame.to_local(_off(at, out, cut.tool.radius - cut.tool.corner_radius))
            yield ((x, x), (y, y), height)


def _off(at: Vec3, way: Vec3, by: float) -> Vec3:
    return (at[0] + way[0] * by, at[1] + way[1] * by, at[2] + way[2] * by)


def _narrowed(low: float, high: float, radius: float) -> Span:
    """The centre stays a radius inside what it cuts; a cut narrower than the cutter needs one line."""
    if high - low <= 2 * radius:
        return ((low + high) / 2, (low + high) / 2)
    return (low + radius, high - radius)
