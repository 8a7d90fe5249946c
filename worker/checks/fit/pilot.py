"""fit.pilot: the hole before leaves a boring tool or a reamer more metal than it takes."""

from __future__ import annotations

import math
from collections.abc import Iterator

from schemas.finding import Remedy
from schemas.tolerances import LENGTH
from worker.checks.api import Context, Draft, Limit, Skip, rule
from worker.checks.holes import Pass, passes_of, sentence, tool_word
from worker.checks.metal import column_before, is_swept_before, place_of
from worker.kernel import measure
from worker.kernel.planar import Region, contains
from worker.kernel.planar_edge import distance, point_at
from worker.kernel.primitives import cylinder
from worker.kernel.section import Sections
from worker.kernel.shape import is_empty
from worker.stage.model import Cut, Stage

LIMITS = {"boring": "boring_depth", "reaming": "reaming_depth"}
HEIGHTS = (0.26, 0.53, 0.79)
"""Where along the metal it is looked at: not at halves, where floors are drawn."""
ALONG = tuple(k / 8 for k in range(9))
"""Where along each edge of a section."""
SKIN = 0.5
"""No more than this (mm) is left on a floor for the last tool."""
SMALL, SMALL_SHARE = 0.25, 0.05
"""Small tools may take so much (mm), but no larger share of their diameter, whatever the limit's own share gives."""


@rule(
    "fit.pilot",
    scope="cut",
    metal="here",
    why="Too deep a cut bends a boring bar and jams a reamer's flutes: the hole is out of size, or the tool breaks.",
    reference="ISO 13399 PHD (diameter of the hole before); handbooks on boring and reaming",
    limits=(
        Limit(
            "boring_depth",
            15.0,
            "%",
            "radial depth as a share of DC: makers' roughing heads take 10 to 12 % (from memory)",
        ),
        Limit(
            "reaming_depth",
            2.5,
            "%",
            "radial depth as a share of DC: handbooks leave 0.1 to 0.25 mm for reamers of 5 to 30 mm (from memory)",
        ),
    ),
)
def pilot(context: Context, stage: Stage, cut: Cut) -> Iterator[Draft | Skip]:
    """How near the axis metal stands; a stated radial depth of cut means that the bar takes it in passes."""
    name = LIMITS.get(cut.step.operation)
    if name is None or not cut.plunges:
        yield Skip("no boring and no reaming")
        return
    tool = cut.tool
    most = tool.diameter * context.limit(name) / 100
    most = max(most, min(SMALL, SMALL_SHARE * tool.diameter)) if name == "reaming_depth" else most
    for one in passes_of(context, stage, cut):
        deep = _depth(context, one, most)
        stated = cut.step.technology.radial_cutting_depth if cut.step.operation == "boring" else None
        if deep is not None and min(deep, stated or math.inf) > most + LENGTH:
            yield _draft(context, one, deep, most)


def _depth(context: Context, one: Pass, most: float) -> float | None:
    """The deepest that the tool cuts sideways (mm); None where it finds no hole, or nothing to cut, or where one step
    before has swept all but ``most`` of it."""
    assert one.plunge is not None
    frame = one.stage.frame
    x, y, _ = frame.to_local(one.plunge.centre)
    low, high = one.plunge.full_diameter_z, max(one.cut.entry_z, one.plunge.full_diameter_z + 1.0)
    foot, end, before = frame.to_world((x, y, low)), frame.to_world((x, y, high)), place_of(one.stage, one.cut)
    above = frame.to_world((x, y, min(low + SKIN, high - SKIN)))
    if is_swept_before(context, one.stage, before, cylinder(above, end, one.diameter - 2 * most)):
        return None
    met = column_before(context, one.stage, before, cylinder(foot, end, one.diameter))
    if is_empty(met):
        return None
    box, sections = measure.bounding_box(met, frame), Sections(met, frame)
    found = [sections.at(box.min[2] + share * (box.max[2] - box.min[2])) for share in HEIGHTS]
    rings = [ring for ring in found if ring.edges and not contains(ring, (x, y))]
    return max((one.diameter / 2 - _nearest(ring, (x, y)) for ring in rings), default=None)


def _nearest(region: Region, point: tuple[float, float]) -> float:
    return min(distance(point_at(edge, t), point) for edge in region.edges for t in ALONG)


def _draft(context: Context, one: Pass, deep: float, most: float) -> Draft:
    least = one.diameter - 2 * most
    passes = " or state the 'radial_cutting_depth' of its passes" if one.cut.step.operation == "boring" else ""
    return Draft(
        message=f"{sentence(tool_word(one.cut))}, ø {context.text(one.diameter)}, takes {context.text(deep)} off each "
        f"side of {one.hole.id}: more than it can ({context.text(most)}).",
        features=(one.hole.id,),
        measured=deep,
        limit=most,
        unit="mm",
        at=one.at,
        remedy=Remedy(
            text=f"Make the hole at least ø {context.text(least)} before step {one.cut.step.id}{passes}.",
            pointer=context.of_setup(one.stage, "workingsteps"),
        ),
    )
