"""Parallels that stand beside the flat of the stock: how thick they would have to be to carry it."""

from __future__ import annotations

import math

from schemas.base import dot
from schemas.finding import Remedy
from schemas.tolerances import LENGTH, TOUCH
from worker.checks.api import Context
from worker.checks.hold._contacts import SQUARE, vise_of
from worker.kernel import measure, primitives
from worker.kernel.contact import patches
from worker.stage.model import Jaws, Stage

BEARING = 3.0
"""So far (mm) they should reach under it, or under half of it where it is narrow (common practice)."""


def thicker_parallels(context: Context, stage: Stage) -> Remedy | None:
    """The thickness that reaches a level flat at the parallels' height; None without one, or where two have no room."""
    vise, jaws = vise_of(stage), stage.holding.jaws
    if vise is None or jaws is None or vise.jaws == "soft" or jaws.support_z <= jaws.bed_z:
        return None
    flats = _flats(stage, jaws)
    if not flats:
        return None
    low, high = min(flats), max(flats)
    reach = max(low - jaws.low, jaws.high - high) + min(BEARING, (high - low) / 2)
    thick = math.ceil(10 * (reach - LENGTH)) / 10
    if 2 * thick > jaws.high - jaws.low:
        return None
    text = f"Use parallels {context.text(thick)} thick: so they reach under the flat of the stock."
    pointer = context.of_setup(stage, "workholding", "parallel_thickness")
    return Remedy(text=text, pointer=pointer, value=thick, unit="mm")


def _flats(stage: Stage, jaws: Jaws) -> list[float]:
    """Where level faces of the stock at the supports' height lie along the jaws' axis (mm)."""
    box, i = measure.bounding_box(stage.as_is, stage.frame), 0 if jaws.axis == "X" else 1
    low = (box.min[0], box.min[1], jaws.support_z - 1.0)
    slab = primitives.box(low, (box.max[0], box.max[1], jaws.support_z), stage.frame)
    met = [p for p in patches(stage.as_is, slab, TOUCH) if dot(p.normal, stage.frame.z) <= -1 + SQUARE]
    return [stage.frame.to_local(point)[i] for patch in met for point in patch.points]
