"""Heads of undercutting cutters that are too wide or too high for the groove, T-slot or dovetail they should cut."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import dot
from schemas.feature import Feature
from schemas.finding import Remedy
from schemas.tolerances import COINCIDENT, LENGTH, VOLUME_NOTHING
from worker.checks.api import Context, Draft
from worker.checks.cut._shut_out import barring
from worker.checks.reach._result import at_most
from worker.checks.standing import lump_on
from worker.kernel.shadow import Skyline
from worker.stage.model import Cut, ResolvedStep, Stage
from worker.stage.removal.scene import scene_of
from worker.stage.removal.undercuts import way_in

ALONG = 1 - 1e-9


def misfits(context: Context, stage: Stage, cut: Cut, feature: Feature) -> Iterator[Draft]:
    """The size that keeps the head out; none where neck or shank do, or the head gets in."""
    if cut.kept_off or barring(context, stage, cut, feature):
        return
    width, rooms = _width(stage, feature), _rooms(context, stage, feature)
    idle = cut.removal_volume <= VOLUME_NOTHING
    if width is not None and wider(cut.tool.diameter, width):
        yield _draft(context, cut, feature, "DC", cut.tool.diameter, width)
    elif rooms and wider(cut.tool.edge_length, room := rooms[0 if idle else -1]):
        yield _draft(context, cut, feature, "APMX", cut.tool.edge_length, room)
    elif idle and not cut.stands:
        yield _no_way_in(context, stage, cut, feature)


def wider(size: float, room: float) -> bool:
    """True when a size of a tool is more than the room for it; within LENGTH it is the same (mm)."""
    return size > room + LENGTH + COINCIDENT


def _width(stage: Stage, feature: Feature) -> float | None:
    """The width between the walls beside the spindle's axis, where the feature states one."""
    return (
        feature.width
        if feature.class_ == "slot" and dot(feature.placement.z, stage.frame.z) > ALONG and _is_straight(feature)
        else None
    )


def _is_straight(feature: Feature) -> bool:
    """False for grooves that run round an axis: their width lies along it."""
    return feature.ends != "loop"


def _rooms(context: Context, stage: Stage, feature: Feature) -> list[float]:
    """The heights between the floor and each roof, along the spindle's axis, rising."""
    shown = Skyline(context.part.body, stage.frame).shown
    floors = [shown[i].high for i in feature.faces if shown[i].look == "up" and shown[i].flat]
    roofs = [shown[i].low for i in feature.faces if shown[i].look == "down" and shown[i].flat]
    return sorted(roof - min(floors) for roof in roofs) if floors else []


def _no_way_in(context: Context, stage: Stage, cut: Cut, feature: Feature) -> Draft:
    """A foot that is wide enough, but that nothing as wide as the head leads into."""
    job = ResolvedStep(cut.index, cut.step, cut.tool, cut.features)
    room = way_in(scene_of(context.part, stage.frame, stage.holding, stage.as_is), job, feature)
    size, mouth = context.units.texts(cut.tool.diameter, at_most(room or 0.0))
    most = f"what leads in from above or from an end lets {mouth} through" if room is not None else "nothing leads in"
    return Draft(
        message=f"The head of {cut.tool.id}, {size} wide, finds no way into {feature.id}: {most}.",
        features=(feature.id,),
        measured=cut.tool.diameter,
        limit=room,
        unit="mm",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=Remedy(
            text=f"Give the head a way in: a hole ø {size} in the slot, or an end left open.",
            pointer=context.of_tool(cut.tool, "DC"),
        ),
    )


def _draft(context: Context, cut: Cut, feature: Feature, name: str, size: float, room: float) -> Draft:
    what = "wide" if name == "DC" else "high"
    told, wanted = context.units.texts(size, room)
    return Draft(
        message=f"The head of {cut.tool.id}, {told} {what}, does not go into {feature.id}, which is {wanted} {what}.",
        features=(feature.id,),
        measured=size,
        limit=room,
        unit="mm",
        at=lump_on(context, feature.id) or feature.placement.location,
        remedy=_remedy(context, cut, name, room),
    )


def _remedy(context: Context, cut: Cut, name: str, room: float) -> Remedy:
    what = "a head of at most ø" if name == "DC" else "an edge APMX of at most"
    text = f"Use a cutter with {what} {context.text(room)}."
    return Remedy(text=text, pointer=context.of_tool(cut.tool, name), value=room, unit="mm")
