"""depth.breakout: the tool comes out below into parallel, jaw, bed, plate or clamp."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks import remedies
from worker.checks.access.hidden import sees
from worker.checks.api import Context, Draft, rule
from worker.checks.cut._holding import Hit, hits
from worker.checks.depth._taps import tapped_into
from worker.checks.hold._contacts import vise_of
from worker.checks.reach._result import at_most
from worker.stage.model import Cut, Stage

THINNEST = 3.0
"""Parallels thinner than this (mm) are no remedy: sets of about 3 mm are the thinnest (common practice)."""


@rule(
    "depth.breakout",
    scope="cut",
    metal="here",
    facets=True,
    why="A drill's point and overcut, or a tap's chamfer, go on below the part: into parallels, bed, plate or clamp.",
    reference="PL = DC / 2 / tan(SIG / 2) (ISO 13399) plus overcut_length (ISO 14649-11); geometry",
)
def breakout(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft]:
    """One finding a body that the tool meets after it has come through."""
    met = tapped_into(context, stage, cut) if cut.step.operation == "tapping" else hits(context, stage, cut)
    for hit in met:
        if hit.below:
            yield Draft(
                message=f"{cut.tool.id} comes out below and goes {context.text(hit.depth)} into {hit.body.name}.",
                features=tuple(f.id for f in cut.features),
                measured=hit.depth,
                limit=0.0,
                unit="mm",
                at=hit.at,
                remedy=_remedy(context, stage, cut, hit),
            )


def _remedy(context: Context, stage: Stage, cut: Cut, hit: Hit) -> Remedy:
    step = cut.step
    if step.operation == "tapping":
        return _shorter_thread(context, stage, cut, hit) or _out_of_the_way(context, stage, cut, hit)
    if step.bottom_z is None and step.cutting_depth is None and step.overcut_length >= hit.depth - LENGTH:
        return remedies.deeper(context, stage, cut, -hit.depth)
    vise = vise_of(stage)
    if vise is not None and hit.body.role == "bed" and vise.nest_depth is not None:
        taller = vise.jaw_height + hit.depth
        text = f"Set jaw_height to {context.text(taller)}: the nest's floor then stands higher above the bed."
        pointer = context.of_setup(stage, "workholding", "jaw_height")
        return Remedy(text=text, pointer=pointer, value=taller, unit="mm")
    if vise is not None and hit.body.role == "bed":
        raised = vise.parallel_height + hit.depth
        text = f"Set parallel_height to {context.text(raised)}"
        if vise.jaw_height - raised < context.limit("least_grip_depth"):
            text += f", with jaws of {context.text(vise.jaw_height + hit.depth)}"
        pointer = context.of_setup(stage, "workholding", "parallel_height")
        return Remedy(text=text + ".", pointer=pointer, value=raised, unit="mm")
    if step.bottom_z is not None or step.cutting_depth is not None:
        return remedies.deeper(context, stage, cut, -hit.depth)
    thinner = _thinner(context, stage, cut) if vise is not None and hit.body.role == "parallel" else None
    return thinner or _out_of_the_way(context, stage, cut, hit)


def _thinner(context: Context, stage: Stage, cut: Cut) -> Remedy | None:
    """Parallels, or a nest's ledges, that end before the nearest hole; None where none so thin would stand."""
    jaws = stage.holding.jaws
    if jaws is None or not cut.plunges:
        return None
    along = [stage.frame.to_local(p.centre)["XY".index(jaws.axis)] for p in cut.plunges]
    room = at_most(min(min(at - jaws.low, jaws.high - at) for at in along) - cut.tool.radius)
    if room < THINNEST:
        return None
    text = f"Set parallel_thickness to {context.text(room)}{_or_elsewhere(context, stage, cut)}."
    pointer = context.of_setup(stage, "workholding", "parallel_thickness")
    return Remedy(text=text, pointer=pointer, value=room, unit="mm")


def _or_elsewhere(context: Context, stage: Stage, cut: Cut) -> str:
    """The first other setup of the plan that sees all that the step makes, else any other."""
    others = (other for other in context.stages if other is not stage)
    seeing = next((other for other in others if all(sees(context, other, cut, f) for f in cut.features)), None)
    return f", or drill it in {'another setup' if seeing is None else f'{seeing.setup.id}, whose axis sees it'}"


def _shorter_thread(context: Context, stage: Stage, cut: Cut, hit: Hit) -> Remedy | None:
    """Less depth, where what is stated goes as far past the hole's end; None where the thread would end in the hole."""
    stated = cut.step.bottom_z is not None or cut.step.cutting_depth is not None
    past = min((cut.bottom_z_nominal - one.full_diameter_z for one in cut.plunges), default=0.0)
    return remedies.deeper(context, stage, cut, -hit.depth) if stated and past >= hit.depth - LENGTH else None


def _out_of_the_way(context: Context, stage: Stage, cut: Cut, hit: Hit) -> Remedy:
    text = f"Move {hit.body.name} from under the hole{_or_elsewhere(context, stage, cut)}."
    if hit.body.role in ("plate", "bed"):
        text = f"Raise the stock by {context.text(hit.depth)}, or give {hit.body.name} a hole there."
    return Remedy(text=text, pointer=context.of_setup(stage, "workholding"))
