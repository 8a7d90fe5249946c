"""carry.mismatch: the as_is that a setup states is not the metal that the previous setup left."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.plan import StepFile
from schemas.tolerances import LAYER, VOLUME_NOTHING
from worker.checks.api import Context, Draft, Skip, rule
from worker.checks.cut._gouge import thickness
from worker.kernel import boolean, measure
from worker.kernel.shape import Body, solids
from worker.stage.model import Stage


@rule(
    "carry.mismatch",
    scope="stage",
    metal="end",
    facets=True,
    why="A stage drawn by hand hides metal that is really there, or shows some that is gone.",
    reference="geometry: volume in one and not in the other; films below the layer tolerance are left out",
)
def mismatch(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """The stated stock against the previous stage's to_be, both in the part's frame."""
    number = context.stages.index(stage)
    stated = stage.setup.as_is
    if stated in (None, "carried") or number == 0:
        yield Skip("the setup starts from the carried stock, or is the first")
        return
    left = context.stages[number - 1].to_be
    more, less = _thick(boolean.cut(stage.as_is, [left])), _thick(boolean.cut(left, [stage.as_is]))
    if not more and not less:
        return
    volumes = [sum(measure.volume(s) for s in found) for found in (more, less)]
    worst = max((*more, *less), key=measure.volume)
    name = f"The file {stated.step}" if isinstance(stated, StepFile) else "The blank, from which this setup starts,"
    words = " and ".join(_words(context, v, w) for v, w in zip(volumes, ("more", "less"), strict=True) if v > 0)
    yield Draft(
        message=f"{name} has {words} than setup {context.stages[number - 1].setup.id} leaves.",
        measured=sum(volumes),
        limit=0.0,
        unit="mm3",
        at=measure.centroid(worst),
        remedy=Remedy(
            text="Carry the stock on from the previous setup.",
            pointer=context.of_setup(stage, "as_is"),
            value="carried",
        ),
    )


def _words(context: Context, volume: float, word: str) -> str:
    return f"{context.units.volume_text(volume)} {word}"


def _thick(body: Body) -> list[Body]:
    return [s for s in solids(body) if measure.volume(s) > VOLUME_NOTHING and thickness(s) > LAYER]
