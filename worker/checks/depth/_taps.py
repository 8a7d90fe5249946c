"""What a tap runs into below a through hole: it takes no metal there that a sweep would show."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.tolerances import LENGTH, VOLUME_NOTHING
from worker.checks.api import Context
from worker.checks.cut._holding import Hit
from worker.checks.holes import Pass, passes_of
from worker.kernel import boolean, measure
from worker.kernel.primitives import cylinder
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage


def tapped_into(context: Context, stage: Stage, cut: Cut) -> Iterator[Hit]:
    """The bodies that a tap enters once it has come through, in the workholding's order; boxes in the setup's frame."""
    screw = cut.tool.screw
    if cut.step.operation != "tapping" or screw is None:
        return
    chamfer = context.limit("tap_chamfer_pitches") * screw.pitch
    for tap in passes_of(context, stage, cut):
        if tap.hole.bottom == "through" and tap.plunge is not None:
            yield from _below(stage, tap, tap.plunge.full_diameter_z - _past_the_thread(cut, chamfer))


def _past_the_thread(cut: Cut, chamfer: float) -> float:
    """The tip of a tap goes its chamfer past the end of the full thread; a stated tip is the tip."""
    return 0.0 if cut.step.bottom_z is not None else chamfer


def _below(stage: Stage, tap: Pass, tip: float) -> Iterator[Hit]:
    """As thick as the hole: there its chamfer has cut the thread's room, and below it is no thicker."""
    assert tap.plunge is not None
    x, y, entry = stage.frame.to_local(tap.at)
    wide = min(tap.hole.diameter or tap.plunge.diameter, tap.plunge.diameter)
    if entry <= tip + LENGTH:
        return
    way = cylinder(stage.frame.to_world((x, y, tip)), stage.frame.to_world((x, y, entry)), wide)
    for body in stage.holding.bodies:
        met = boolean.common(way, [body.body], merge=False)
        if is_empty(met) or measure.volume(met) <= VOLUME_NOTHING:
            continue
        box = measure.bounding_box(met, stage.frame)
        if box.max[2] < entry - LENGTH:
            yield Hit(body, measure.volume(met), box, measure.centroid(met), below=True)
