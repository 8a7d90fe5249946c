"""hold.faces: the jaws do not meet two flat, parallel, opposite faces; a clamp bears on nothing."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import scale
from schemas.finding import Remedy
from schemas.tolerances import TOUCH, VOLUME_NOTHING
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import jaw_direction, jaw_patches, total, vise_of
from worker.kernel import boolean, measure
from worker.kernel.contact import opposed_area, touches
from worker.stage.model import HoldingBody, Jaws, Stage


@rule(
    "hold.faces",
    scope="stage",
    why="On a round, sloped or offset face the jaws meet an edge: the stock turns, lifts or is marked.",
    reference="common practice: jaws want two flat, parallel, opposite faces",
    limits=(
        Limit(
            "least_opposed_share",
            0.25,
            "1",
            "common practice, no standard: share of the smaller jaw area that is opposed",
        ),
    ),
    because_of=("hold.opening",),
)
def hold_faces(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """On the real as-is solid, within the jaws' height and width."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    if vise is None or jaws is None:
        bodies = stage.holding.of("clamp", "bolt")
        yield from (d for body in bodies for d in _clamp(context, stage, body))
        if not bodies:
            yield Skip("neither vise nor clamps")
    elif vise.jaws == "soft":
        yield Skip("soft jaws are cut to the stock's form")
    else:
        yield from _jaws(context, stage, jaws)


def _jaws(context: Context, stage: Stage, jaws: Jaws) -> Iterator[Draft]:
    fixed, moving = (jaw_patches(context, stage, role) for role in ("jaw_fixed", "jaw_moving"))
    names = [n for n, met in (("fixed", fixed), ("moving", moving)) if not met]
    if names:
        yield Draft(
            message=f"The {' and the '.join(names)} jaw meets no flat face of the stock square to {jaws.axis}.",
            measured=0.0,
            unit="mm2",
            at=_middle(stage, jaws, "fixed" in names),
            remedy=_other_axis(context, stage, jaws),
        )
        return
    opposed = opposed_area(fixed, moving, scale(jaw_direction(stage, jaws), jaws.opening))
    smaller = min(total(fixed), total(moving))
    if opposed < context.limit("least_opposed_share") * smaller:
        yield Draft(
            message=f"The faces between the jaws are not opposite: {100 * opposed / smaller:.0f} % of the smaller one "
            "has metal and jaw straight across.",
            measured=opposed,
            limit=context.limit("least_opposed_share") * smaller,
            unit="mm2",
            at=fixed[0].inside,
            remedy=_other_axis(context, stage, jaws),
        )


def _middle(stage: Stage, jaws: Jaws, low: bool) -> tuple[float, float, float]:
    along, z = (jaws.low if low else jaws.high), (jaws.support_z + jaws.top_z) / 2
    point = (along, jaws.centre, z) if jaws.axis == "X" else (jaws.centre, along, z)
    return stage.frame.to_world(point)


def _other_axis(context: Context, stage: Stage, jaws: Jaws) -> Remedy:
    other = "Y" if jaws.axis == "X" else "X"
    return Remedy(
        text=f"Clamp along {other}, use soft jaws with a nest, or machine flats first.",
        pointer=context.of_setup(stage, "workholding", "jaw_axis"),
        value=other,
    )


def _clamp(context: Context, stage: Stage, body: HoldingBody) -> Iterator[Draft]:
    if not touches(stage.as_is, body.body, TOUCH):
        if body.role == "clamp":
            gap = measure.distance(stage.as_is, body.body)
            yield Draft(
                message=f"{body.name} bears on nothing: it stands {context.text(gap.distance)} from the stock.",
                measured=gap.distance,
                limit=0.0,
                unit="mm",
                at=gap.on_first,
            )
        return
    inside = boolean.common(stage.as_is, [body.body], merge=False)
    volume = measure.volume(inside)
    if volume > VOLUME_NOTHING and volume > TOUCH * measure.area(inside) / 2:
        what = "goes through solid metal: there is no hole for it" if body.role == "bolt" else "stands in the stock"
        yield Draft(message=f"{body.name} {what}.", measured=volume, limit=0.0, unit="mm3", at=measure.centroid(inside))
