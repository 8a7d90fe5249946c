"""The slots that T-slots and dovetails among other recesses are: placement, sizes and ends."""

from __future__ import annotations

from schemas.base import Frame, add, dot, scale
from worker.recognise.channels import Channel, end_on, length_of
from worker.recognise.extent import extent
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess


def channel_draft(shape: PartShape, channel: Channel) -> Draft:
    """The slot that a channel is: width of its foot, depth from its mouth, as long as its walls."""
    up, across, travel = channel.halves[0].up, channel.halves[0].inward, channel.travel
    spans = [length_of(shape, channel), extent(shape, channel.sides, across)]
    bottom = dot(shape.patches[channel.floors[0]].surface.origin, up)
    top = channel.top if channel.top is not None else top_of(shape, Recess(channel.necks, up, (), ()))
    place = add(add(scale(travel, sum(spans[0]) / 2), across, sum(spans[1]) / 2), up, top)
    ends = sorted(
        (end_on(shape, channel, w) for w in (travel, scale(travel, -1.0))), key=("open", "flat", "radiused").index
    )
    kind = "dovetail" if channel.is_dovetail else "T-slot"
    sizes: dict[str, object] = {
        "length": spans[0][1] - spans[0][0],
        "width": spans[1][1] - spans[1][0],
        "depth": top - bottom,
        "bottom": "planar",
        "ends": " ".join(ends),
        "open_sides": ends.count("open"),
        "undercut": f"{kind}: wider below than at its mouth",
    }
    return Draft("slot", channel.patches, Frame(location=place, axis=up, ref_direction=travel), (), sizes)
