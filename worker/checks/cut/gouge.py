"""cut.gouge: the step cuts into the finished part."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Box, Vec3, dot
from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import COINCIDENT, LENGTH
from worker.checks import remedies
from worker.checks.api import Context, Draft, Limit, rule
from worker.checks.cut._gouge import gouged, highest_tip
from worker.checks.heights import bottom_of
from worker.checks.holes import makes_cylinder, passes_of
from worker.checks.milling import mills
from worker.kernel import measure, nearness
from worker.kernel.shape import Body, faces, solids
from worker.part import RECESSES
from worker.stage.model import Cut, Stage

FLOORED = RECESSES | {"planar_face"}
NAMED = 4
"""Features that the sentence names."""


@rule(
    "cut.gouge",
    scope="cut",
    metal="sweep",
    facets=True,
    why="Metal that the drawing wants is gone: scrap.",
    reference="geometry: the tool's sweep against the finished part",
    limits=(
        Limit("gouge_film", 0.005, "mm", "common practice: below what a shop floor measures"),
        Limit("thread_mouth", 1.05, "1", "mouth of a tapped hole: 1 to 1.05 of its thread (DIN 76-1, from memory)"),
    ),
)
def gouge(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """One finding a step; a wide drill alone is fit.hole-diameter's, one that also goes too deep is told here."""
    found = gouged(context, stage, cut, context.limit("gouge_film"))
    if found is None or (_only_wide(context, stage, cut, found)):
        return
    worst = max(solids(found), key=measure.volume)
    box = measure.bounding_box(worst, stage.frame)
    hurt, own = _hurt(context, worst), tuple(f.id for f in cut.features)
    yield Draft(
        message=f"{cut.tool.id} takes {context.units.volume_text(measure.volume(found))} of the "
        f"finished part, {context.text(_depth(context, cut, box))} deep{_named(own, hurt)}.",
        features=hurt or own,
        measured=measure.volume(found),
        limit=0.0,
        unit="mm3",
        at=measure.centroid(worst),
        remedy=_remedy(context, stage, cut, box.max[2], measure.bounding_box(found, stage.frame).max[2]),
    )


def _depth(context: Context, cut: Cut, box: Box) -> float:
    """How far it goes into the part, mm; in a hole with a conical bottom counted at the full diameter."""
    over = cut.bottom_z_nominal - cut.full_diameter_z
    return min(over, box.size[2]) if over > LENGTH and _pointed_bottom(context, cut) else box.size[2]


def _named(own: tuple[str, ...], hurt: tuple[str, ...]) -> str:
    """The first few in words, those that the step works on before the others; the finding's features hold them all."""
    first = sorted(hurt, key=lambda id: id not in own)
    more = f" and {len(hurt) - NAMED} more" if len(hurt) > NAMED else ""
    return f", at {', '.join(first[:NAMED])}{more}" if hurt else ""


def _only_wide(context: Context, stage: Stage, cut: Cut, found: Body) -> bool:
    """All of it lies beside holes that the tool is too wide for, none of it below their bottom."""
    wide = [p for p in passes_of(context, stage, cut) if p.plunge and p.diameter > (p.hole.diameter or 0.0) + LENGTH]
    if not wide or not makes_cylinder(cut):  # fit.hole-diameter does not judge spots and countersinks
        return False
    low = measure.bounding_box(found, stage.frame).min[2]
    return low >= min(p.plunge.tip_z for p in wide if p.plunge) - LENGTH and not _too_deep(cut, low)


def _too_deep(cut: Cut, low: float) -> bool:
    return low < cut.bottom_z_nominal - cut.tool.point_length - LENGTH


def _hurt(context: Context, worst: Body) -> tuple[str, ...]:
    """The features whose own faces bound the metal that is taken."""
    points = [at for _, at in measure.points_inside(faces(worst))]
    return tuple(f.id for f in context.part.features if f.faces and any(_on(context, f.faces, p) for p in points))


def _on(context: Context, indices: tuple[int, ...], point: Vec3) -> bool:
    return nearness.lies_on_faces(context.part.body, indices, point, LENGTH)


def _remedy(context: Context, stage: Stage, cut: Cut, top: float, highest: float) -> Remedy:
    """Stop at the top of the gouge where the step goes below its features' bottom; else another depth does not mend.

    Nor does it where the tool at its full width is in the part above that depth: ``highest`` is the top of all gouges.
    """
    over = top - cut.tip_z
    step = cut.step
    stated = step.bottom_z is not None or step.cutting_depth is not None or step.overcut_length > 0
    lowest = cut.full_diameter_z if _pointed_bottom(context, cut) else cut.tip_z
    deepest = _deepest(context, stage, cut)
    raised = min(over, deepest - lowest)
    mends = highest <= cut.full_diameter_z + raised + LENGTH
    if (stated or step.allowance_bottom < 0) and lowest < deepest - LENGTH and mends:
        found = remedies.deeper(context, stage, cut, -raised)
        return found.model_copy(update={"text": found.text + _meant(context, stage, cut)})
    if step.allowance_side < 0:
        text = "Set allowance_side to 0: below it the cutter goes into the walls."
        return Remedy(text=text, pointer=context.of_step(stage, cut, "allowance_side"), value=0.0, unit="mm")
    return Remedy(text="Use a smaller tool, or cut it from another side.", pointer=context.of_step(stage, cut, "tool"))


def _deepest(context: Context, stage: Stage, cut: Cut) -> float:
    """How far down the step may go: its features' bottom; a spot of tapped holes until their mouths are wide enough."""
    tips = [highest_tip(context, one) for one in passes_of(context, stage, cut)]
    known = [tip for tip in tips if tip is not None]
    return min(cut.bottom_z_nominal, max(known)) if tips and len(known) == len(tips) else cut.bottom_z_nominal


def _meant(context: Context, stage: Stage, cut: Cut) -> str:
    """What has its floor at the height that a mill was given: named itself, it keeps what stands beside it."""
    if not mills(cut):
        return ""
    others = (f for f in context.part.features if f.class_ in FLOORED and f not in cut.features)
    level = [f.id for f in others if _looks_up(stage, f) and abs(bottom_of(stage, f) - cut.tip_z) <= LENGTH]
    return f" Where {' or '.join(level[:NAMED])} is meant, whose height that is, name it instead." if level else ""


def _looks_up(stage: Stage, feature: Feature) -> bool:
    return dot(feature.placement.z, stage.frame.z) > 1 - COINCIDENT


def _pointed_bottom(context: Context, cut: Cut) -> bool:
    """A drill in a hole with a conical bottom: its point belongs below the hole's nominal depth; a spot's does not."""
    if not makes_cylinder(cut):
        return False
    bottoms = {context.part.feature(plunge.feature).bottom for plunge in cut.plunges}
    return bool(bottoms) and bottoms <= {"conical", "spherical"}
