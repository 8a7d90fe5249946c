"""hold.released: a step cuts away what the jaws or clamps hold, or the part itself comes free."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.hold._contacts import clamping, heights, patches_of, total, vise_of
from worker.checks.hold._shrinking import first_below, letting_go
from worker.checks.hold._undermined import undermined
from worker.checks.loose._split import splitting_cut
from worker.kernel import measure
from worker.kernel.contact import Patch, patches
from worker.kernel.shape import is_empty
from worker.kernel.walls_side import close
from worker.stage.model import Cut, HoldingBody, Stage


@rule(
    "hold.released",
    scope="stage",
    metal="here",
    facets=True,
    why="Once the metal between the jaws is gone, the part is loose under a turning tool.",
    reference="geometry; the share that must stay is common practice",
    limits=(Limit("least_kept_share", 0.5, "1", "common practice: share of the clamped area that must stay"),),
    because_of=("hold.faces",),
)
def released(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
    """Flat areas under jaws and clamps, and what carries the stock, before the first and after the last cut; where they
    shrink, the step too."""
    if stage.released:
        yield _came_free(context, stage)
        return
    gone = undermined(context, stage)
    if gone is not None:
        yield gone
    bodies = clamping(stage)
    if not bodies:
        yield Skip("no jaws and no clamps")
    for body in bodies:
        before = patches_of(context, stage, body)
        if not before or _is_untouched(stage, before):
            continue
        least = context.limit("least_kept_share") * total(before)
        kept = total(patches(stage.to_be, body.body, TOUCH))
        if kept < least:
            yield _draft(context, stage, body, before, kept)


def _is_untouched(stage: Stage, held: tuple[Patch, ...]) -> bool:
    """Whether the setup surely cuts nothing of some patches: no box of what it takes comes near, and nothing falls
    off."""
    if any(not is_empty(body) for body in stage.loose):
        return False
    boxes = [measure.bounding_box(cut.removal) for cut in stage.cuts if not is_empty(cut.removal)]
    return not any(close(measure.box_of(patch.shape), box, TOUCH) for patch in held for box in boxes)


def _came_free(context: Context, stage: Stage) -> Draft:
    least = context.limit("least_kept_share")
    shares = [(body, least * total(patches_of(context, stage, body))) for body in clamping(stage)]
    cut = splitting_cut(stage) or letting_go(stage, shares)
    return Draft(
        message="The part itself comes free: after this step nothing that clamps touches it.",
        at=measure.centroid(stage.to_be),
        remedy=_below_the_carrier(context, stage, cut)
        or Remedy(
            text="Leave a carrier between the jaws, or tabs.",
            pointer=context.of_step(stage, cut) if cut else context.of_setup(stage, "workholding"),
        ),
        cut=cut,
    )


def _below_the_carrier(context: Context, stage: Stage, cut: Cut | None) -> Remedy | None:
    """Jaws that close on a carrier which stands out above what stays meet that where they end below the carrier, and
    no higher than the step that takes it goes."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    held = [patch for body in clamping(stage) for patch in patches_of(context, stage, body)]
    if vise is None or jaws is None or not held:
        return None
    top = min(heights(stage, held)[0], cut.tip_z if cut else jaws.top_z)
    kept = measure.bounding_box(stage.to_be, stage.frame)
    if top - jaws.support_z < context.limit("least_grip_depth") or kept.min[2] > jaws.support_z + LENGTH:
        return None
    key, value = ("nest_depth", top - jaws.support_z) if vise.jaws == "soft" else ("jaw_height", top - jaws.bed_z)
    return Remedy(
        text=f"Set {key} to {context.text(value)}: the jaws then close below the metal that is cut away.",
        pointer=context.of_setup(stage, "workholding", key),
        value=value,
        unit="mm",
    )


def _draft(context: Context, stage: Stage, body: HoldingBody, before: tuple[Patch, ...], kept: float) -> Draft:
    cut = first_below(stage, body, context.limit("least_kept_share") * total(before))
    place: Vec3 = before[0].inside
    name = f"step {cut.step.id}" if cut else "the setup"
    area = f"{context.units.area_text(total(before))}"
    text = "Keep this step away from the clamped faces"
    text += f": not lower than the top of {body.name}." if body.role.startswith("jaw") else ", or move the clamp."
    return Draft(
        message=f"Of the {area} under {body.name}, {name} leaves {100 * kept / total(before):.0f} %.",
        features=tuple(f.id for f in cut.features) if cut else (),
        measured=kept,
        limit=context.limit("least_kept_share") * total(before),
        unit="mm2",
        at=place,
        remedy=_remedy(context, stage, cut, text),
        cut=cut,
    )


def _remedy(context: Context, stage: Stage, cut: Cut | None, text: str) -> Remedy:
    jaws = stage.holding.jaws
    if cut is not None and cut.step.bottom_z is not None and jaws is not None and cut.tip_z < jaws.top_z:
        pointer = context.of_step(stage, cut, "bottom_z")
        return Remedy(text=text, pointer=pointer, value=jaws.top_z, unit="mm")
    return Remedy(text=text, pointer=context.of_step(stage, cut) if cut else context.of_setup(stage, "workholding"))
