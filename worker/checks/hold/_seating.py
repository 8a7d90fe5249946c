"""How a stock seats in a vise while the jaws close: on both parallels, or tipping off one."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from schemas.workholding import Vise
from worker.checks.api import Context, Draft
from worker.checks.hold._contacts import SQUARE, patches_of
from worker.checks.hold._loads import flat
from worker.checks.hold._support import Point2, outside
from worker.kernel import measure
from worker.stage.model import HoldingBody, Stage


def parallel_drafts(context: Context, stage: Stage, vise: Vise) -> Iterator[Draft]:
    """Parallels that the plan says are too thick to stand side by side between the jaws."""
    jaws = stage.holding.jaws
    if jaws is None or not vise.parallel_height or "parallel_thickness" not in vise.model_fields_set:
        return
    if 2 * vise.parallel_thickness > jaws.opening + LENGTH:
        room = jaws.opening / 2
        yield Draft(
            message=f"Two parallels {context.text(vise.parallel_thickness)} thick do not stand between jaws "
            f"{context.text(jaws.opening)} apart.",
            measured=vise.parallel_thickness,
            limit=room,
            unit="mm",
            at=measure.centroid(stage.holding.of("parallel")[0].body),
            remedy=Remedy(
                text=f"Use parallels at most {context.text(room)} thick.",
                pointer=context.of_setup(stage, "workholding", "parallel_thickness"),
                value=room,
                unit="mm",
            ),
            level="warning",
        )


def leaning_drafts(
    context: Context, stage: Stage, below: tuple[Point2, ...], wide: tuple[Point2, ...]
) -> Iterator[Draft]:
    """A centre of mass that only the jaws' friction carries: the stock tips while they close, and seats on nothing."""
    centre = measure.centroid(stage.as_is)
    over = outside(below, flat(stage, centre))
    if not below or over <= LENGTH or outside(wide, flat(stage, centre)) > LENGTH:
        return
    names = [b.name for b in stage.holding.of("parallel", "bed") if _carries(context, stage, b)]
    yield Draft(
        message=f"The stock stands on {' and '.join(names)} alone, its centre of mass {context.text(over)} beside: it "
        "tips while the jaws close.",
        measured=over,
        limit=0.0,
        unit="mm",
        at=centre,
        remedy=Remedy(
            text="Put a support under the other side, of the height that the stock has there, or use soft jaws with a "
            "nest.",
            pointer=context.of_setup(stage, "workholding"),
        ),
        level="warning",
    )


def _carries(context: Context, stage: Stage, body: HoldingBody) -> bool:
    return any(dot(p.normal, stage.frame.z) <= -1 + SQUARE for p in patches_of(context, stage, body))
