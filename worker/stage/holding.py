"""The workholding, placed on the as-is stock: vise, fixture plate, given bodies."""

from __future__ import annotations

from collections.abc import Mapping

from schemas.base import Box, Frame, Vec3
from schemas.tolerances import COINCIDENT, FACETS, LENGTH
from schemas.workholding import Bodies, FixtureElement, FixturePlate, Vise, Workholding
from worker.kernel import boolean, measure, primitives
from worker.kernel.errors import KernelError
from worker.kernel.journal import note
from worker.kernel.mesh import extent_below
from worker.kernel.nearness import box_of_faces
from worker.kernel.outline import curves
from worker.kernel.shape import WORLD, Body, faces, is_empty, move_body
from worker.kernel.view import view_of
from worker.stage.frame import placed
from worker.stage.model import Holding, HoldingBody, Jaws, Role

BED_THICKNESS = 20.0
"""How far down the vise bed is modelled, mm: enough to meet any tool that comes through."""


def place_holding(
    workholding: Workholding, frame: Frame, as_is: Body, files: Mapping[str, Body], flats: bool = False
) -> Holding:
    """The workholding's bodies in the part's frame. ``files`` are the STEP bodies sent along, by name; ``flats`` says
    that the stock has no round face: then no boolean with its thousands of faces is needed.
    """
    box = measure.bounding_box(as_is, frame)
    if isinstance(workholding, Vise):
        return _vise(workholding, frame, as_is, box, flats)
    if isinstance(workholding, FixturePlate):
        bodies = tuple(_element(e, i, frame, files) for i, e in enumerate(workholding.elements))
        return Holding("fixture_plate", bodies, box.min[2])
    return Holding("bodies", _given(workholding, frame, files), box.min[2])


def _given(workholding: Bodies, frame: Frame, files: Mapping[str, Body]) -> tuple[HoldingBody, ...]:
    found = []
    for item in workholding.bodies:
        body = move_body(files[item.step], WORLD, placed(frame, item.placement))
        found.append(HoldingBody(item.name or item.step, "body", body))
    return tuple(found)


def _element(element: FixtureElement, index: int, frame: Frame, files: Mapping[str, Body]) -> HoldingBody:
    name = element.name or f"{element.type} {index + 1}"
    return HoldingBody(name, element.type, _element_body(element, frame, files))


def _element_body(element: FixtureElement, frame: Frame, files: Mapping[str, Body]) -> Body:
    if element.box is not None:
        return primitives.box(element.box.min, element.box.max, frame)
    if element.cylinder is not None:
        start, end = frame.to_world(element.cylinder.from_), frame.to_world(element.cylinder.to)
        return primitives.cylinder(start, end, element.cylinder.diameter)
    assert element.step is not None  # the model admits exactly one shape
    return move_body(files[element.step], WORLD, frame)


def _vise(vise: Vise, frame: Frame, as_is: Body, box: Box, flats: bool) -> Holding:
    jaws = _jaws(vise, frame, as_is, box, flats)
    along = 0 if vise.jaw_axis == "X" else 1
    place = _Placer(along, jaws, frame)
    low, high, thick = jaws.low, jaws.high, vise.jaw_thickness
    bodies = [
        place.block("fixed jaw", "jaw_fixed", low - thick, low, jaws.bed_z, jaws.top_z),
        place.block("moving jaw", "jaw_moving", high, high + thick, jaws.bed_z, jaws.top_z),
    ]
    ledge = min(vise.parallel_thickness, (high - low) / 2)
    if jaws.support_z > jaws.bed_z:
        name = "nest floor" if vise.jaws == "soft" else "parallel"
        bodies.append(place.block(f"{name} 1", "parallel", low, low + ledge, jaws.bed_z, jaws.support_z))
        bodies.append(place.block(f"{name} 2", "parallel", high - ledge, high, jaws.bed_z, jaws.support_z))
    bodies.append(place.block("bed", "bed", low - thick, high + thick, jaws.bed_z - BED_THICKNESS, jaws.bed_z))
    return Holding("vise", tuple(bodies), box.min[2], jaws)


def _jaws(vise: Vise, frame: Frame, as_is: Body, box: Box, flats: bool) -> Jaws:
    """Where the jaws stand. Soft jaws: the stock stands on the nest's floor, ``nest_depth`` below their top."""
    support = box.min[2]
    top = support + (vise.nest_depth or vise.jaw_height - vise.parallel_height)
    bed = top - vise.jaw_height
    along, across = (0, 1) if vise.jaw_axis == "X" else (1, 0)
    low, high = extremes_below(as_is, frame, box, along, top, flats)
    centre = box.mid[across] + vise.jaw_offset
    grip = min(top, box.max[2]) - support
    return Jaws(vise.jaw_axis, low, high, bed, support, top, grip, centre, vise.jaw_width)


def extremes_below(as_is: Body, frame: Frame, box: Box, along: int, top: float, flats: bool) -> tuple[float, float]:
    """The stock's least and greatest coordinate along an axis (0 or 1) of the setup, below the jaws' top.

    What overhangs from the height of the jaws' top on stands over them: they pass under it, however closely.
    """
    top -= LENGTH
    if top >= box.max[2] or _corners_at_both_ends(as_is, frame, box, along, top):
        return box.min[along], box.max[along]
    if flats:
        return _ends_below(as_is, frame, along, top) or (box.min[along], box.max[along])
    lower = _box_of_lower_faces(as_is, frame, top)
    if lower is not None and _corners_at_both_ends(as_is, frame, lower, along, top):
        return lower.min[along], lower.max[along]
    low: Vec3 = (box.min[0] - 1.0, box.min[1] - 1.0, box.min[2] - 1.0)
    high: Vec3 = (box.max[0] + 1.0, box.max[1] + 1.0, top)
    try:
        gripped = boolean.common(as_is, [primitives.box(low, high, frame)], merge=False)
    except KernelError as error:
        note(f"Where the jaws meet the stock was found by triangles, because solids failed ({error.detail}).")
        return extent_below(as_is, frame, along, top, FACETS) or (box.min[along], box.max[along])
    found = box if is_empty(gripped) else measure.bounding_box(gripped, frame)
    return found.min[along], found.max[along]


def _corners_at_both_ends(as_is: Body, frame: Frame, box: Box, along: int, top: float) -> bool:
    """True when corners below the jaws' top already lie at the box's two ends: the usual block needs no cut."""
    view = view_of(frame)
    low = [p for c in curves(as_is) for p in (view.to_local(c.a), view.to_local(c.b)) if p[2] <= top]
    return all(any(abs(p[along] - end) <= COINCIDENT for p in low) for end in (box.min[along], box.max[along]))


def _box_of_lower_faces(as_is: Body, frame: Frame, top: float) -> Box | None:
    """The box of all faces that reach below a height: it holds what lies there, and what they have above it too."""
    low = [i for i, face in enumerate(faces(as_is)) if measure.box_of(face, frame).min[2] < top]
    return box_of_faces(as_is, low, frame) if low else None


def _ends_below(as_is: Body, frame: Frame, along: int, top: float) -> tuple[float, float] | None:
    """Least and greatest coordinate of a body of flats below a height: they lie on its edges, which are straight."""
    view = view_of(frame)
    found = []
    for curve in curves(as_is):
        a, b = view.to_local(curve.a), view.to_local(curve.b)
        found += [p[along] for p in (a, b) if p[2] <= top]
        if (a[2] - top) * (b[2] - top) < 0:
            found.append(a[along] + (top - a[2]) / (b[2] - a[2]) * (b[along] - a[along]))
    return (min(found), max(found)) if found else None


class _Placer:
    """Blocks of a vise: along the jaws' axis, as wide as the jaws, between two heights."""

    def __init__(self, along: int, jaws: Jaws, frame: Frame) -> None:
        self.along = along
        self.side = (jaws.centre - jaws.width / 2, jaws.centre + jaws.width / 2)
        self.frame = frame

    def block(self, name: str, role: Role, start: float, end: float, bottom: float, top: float) -> HoldingBody:
        corners = []
        for along, across, z in ((start, self.side[0], bottom), (end, self.side[1], top)):
            corners.append((along, across, z) if self.along == 0 else (across, along, z))
        return HoldingBody(name, role, primitives.box(corners[0], corners[1], self.frame))
