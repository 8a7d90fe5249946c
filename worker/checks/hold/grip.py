"""hold.grip: too little metal between the jaws."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import heights, jaw_patches, vise_of
from worker.stage.model import Stage


@rule(
    "hold.grip",
    scope="stage",
    metal="as_is",
    facets=True,
    why="A part held by its last millimetres is pulled out by the cutter.",
    reference="common practice, no standard: 3 mm for light cuts, a fifth to a third of the height usual",
    limits=(
        Limit("least_grip_depth", 3.0, "mm", "common practice, light cuts in plain jaws (from memory)"),
        Limit("least_grip_depth_serrated", 1.5, "mm", "common practice, serrated or dovetail jaws (from memory)"),
    ),
    because_of=("hold.faces",),
)
def grip(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """The jaws' height above the parallels, limited by the stock's own flat faces; soft jaws: the nest's depth."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    if vise is None or jaws is None:
        yield Skip("no vise")
        return
    name = "least_grip_depth_serrated" if vise.jaw_surface == "serrated" else "least_grip_depth"
    least, depth = context.limit(name), _depth(context, stage, jaws.grip, soft=vise.jaws == "soft")
    if depth >= least - LENGTH:
        return
    missing = least - depth
    key, value = ("nest_depth", (vise.nest_depth or 0.0) + missing)
    if vise.jaws != "soft":
        key, value = ("jaw_height", vise.jaw_height + missing)
    if vise.jaws != "soft" and vise.parallel_height >= missing:
        key, value = ("parallel_height", vise.parallel_height - missing)
    found = jaw_patches(context, stage, "jaw_fixed")
    yield Draft(
        message=f"The jaws grip {context.text(depth)}; at least {context.text(least)} is asked for.",
        measured=depth,
        limit=least,
        unit="mm",
        at=found[0].inside if found else None,
        remedy=Remedy(
            text=f"Set {key} to {context.text(value)}.",
            pointer=context.of_setup(stage, "workholding", key),
            value=value,
            unit="mm",
        ),
    )


def _depth(context: Context, stage: Stage, stated: float, *, soft: bool) -> float:
    """Height over which both jaws meet flat faces; as stated where that is not known."""
    both = [jaw_patches(context, stage, role) for role in ("jaw_fixed", "jaw_moving")]
    if soft or not all(both):
        return stated
    spans = [heights(stage, patches) for patches in both]
    return min(stated, *(high - low for low, high in spans))
