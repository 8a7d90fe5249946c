"""machine.travel: the setup needs more travel than the machine states."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from schemas.base import Vec3, dot
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
    for number, name in enumerate("XYZ"):
        needed = max(s[number][1] for s in spans) - min(s[number][0] for s in spans)
        if needed > limits[number]:
            yield Draft(
                message=f"The cuts need {context.text(needed)} of travel along {name}; the machine has "
                f"{context.text(limits[number])}.",
                measured=needed,
                limit=limits[number],
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
