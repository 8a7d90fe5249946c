"""A setup's frame: the ISO 10303-42 placement of its origin in the part's frame."""

from __future__ import annotations

from schemas.base import Box, Frame, Vec3
from schemas.plan import BoxPoint, Setup
from schemas.workholding import Placement
from worker.kernel import measure
from worker.kernel.shape import Body


def setup_frame(setup: Setup, part: Body, as_is: Body) -> Frame:
    """The setup's axes with the work offset's zero; a point "on" a body is one of its bounding box in those axes."""
    origin = setup.origin
    axes = Frame(axis=origin.axis, ref_direction=origin.ref_direction)
    if not isinstance(origin.location, BoxPoint):
        return Frame(location=origin.location, axis=origin.axis, ref_direction=origin.ref_direction)
    box = measure.bounding_box(as_is if origin.location.on == "as_is" else part, axes)
    location = axes.to_world(_point_of(box, origin.location))
    return Frame(location=location, axis=origin.axis, ref_direction=origin.ref_direction)


def _point_of(box: Box, where: BoxPoint) -> Vec3:
    choices = {"min": box.min, "mid": box.mid, "max": box.max}
    x, y, z = (choices[word][i] for i, word in enumerate(where.at))
    return (x, y, z)


def placed(frame: Frame, placement: Placement) -> Frame:
    """A placement that is given in a frame, as a frame of the part's frame."""
    return Frame(
        location=frame.to_world(placement.location),
        axis=frame.direction_to_world(placement.axis),
        ref_direction=frame.direction_to_world(placement.ref_direction),
    )
