"""loose.piece: a cut leaves more than one solid, and a piece comes free."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.loose._split import splitting_cut
from worker.kernel import measure
from worker.kernel.shape import Body
from worker.stage.model import Cut, Stage


@rule(
    "loose.piece",
    scope="stage",
    metal="here",
    facets=True,
    why="A slug, ring or strip that comes free is thrown or jams the cutter.",
    reference="common practice: tabs, a backing, or a stop before the last cut",
    limits=(Limit("least_piece", 1.0, "mm", "common practice: a chip of milling is larger"),),
    because_of=("hold.released",),
)
def piece(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Every solid that nothing holds after the setup, with its volume and the step that parts it; what is smaller than
    the limit every way is a chip, as between two chamfers of a slit's corner."""
    limit = context.limit("least_piece")
    pieces = [body for body in stage.loose if max(measure.bounding_box(body, stage.frame).size) >= limit]
    if not pieces:
        return
    cut = splitting_cut(stage)
    for body in pieces:
        yield _draft(context, stage, cut, body)


def _draft(context: Context, stage: Stage, cut: Cut | None, body: Body) -> Draft:
    volume = measure.volume(body)
    material = context.plan.workpiece.material
    density = material.density_kg_m3 if material else None
    mass = f", {volume * 1e-9 * density:.3g} kg" if density else ""
    size = " x ".join(context.units.number(c) for c in measure.bounding_box(body, stage.frame).size)
    return Draft(
        message=f"A piece comes free ({size} {context.units.symbol}{mass}).",
        features=tuple(f.id for f in cut.features) if cut else (),
        measured=volume,
        limit=0.0,
        unit="mm3",
        at=measure.place_in(body),
        remedy=Remedy(
            text="Cut it to chips, leave tabs, or stop before the last cut and take it out.",
            pointer=context.of_step(stage, cut) if cut else context.of_setup(stage),
        ),
        cut=cut,
    )
