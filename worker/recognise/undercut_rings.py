"""Dovetails in a face that run in a circle: grooves for sealing rings."""

from __future__ import annotations

from schemas.base import Vec3, add, any_frame, dot
from schemas.tolerances import LEDGE, SAME_LENGTH
from worker.recognise.borders import Circle, circle_of
from worker.recognise.ids import Draft
from worker.recognise.patches import PartShape
from worker.recognise.recess_size import top_of
from worker.recognise.recesses import Recess
from worker.recognise.ring_grooves import off_axis, round_about
from worker.recognise.undercuts import LEANS


def undercut_ring(shape: PartShape, recess: Recess) -> Draft | None:
    """The ring that an unseen recess is: faces all round one axis over a floor, wider there than at its mouth."""
    if recess.seen or len(recess.floors) != 1:
        return None
    floor, up = shape.patches[recess.floors[0]], recess.axis
    turned = next((shape.patches[p].surface for p in recess.patches if p not in recess.floors), None)
    if turned is None or abs(dot(turned.axis, up)) < 1 - SAME_LENGTH:
        return None
    patches = [shape.patches[p] for p in recess.patches]
    if not all(round_about(p, turned.origin, turned.axis) for p in patches):
        return None
    edges = [max(loop, key=lambda r: r.length) for loop in floor.loops]
    foot = sorted(c[2] for r in edges if (c := circle_of(r)) and _is_about(c, turned.origin, up))
    rims = [r for p in patches if p is not floor for r in p.rims if r.other not in recess.patches]
    rims = [r for r in rims if r.length > LEDGE]  # the ends of slivers are too short to tell their circles
    mouth = sorted(c[2] for r in rims if (c := circle_of(r)) and _is_about(c, turned.origin, up))
    if len(foot) < 2 or len(mouth) < 2 or foot[-1] - foot[0] < mouth[-1] - mouth[0] + LEANS:
        return None
    return _draft(shape, recess, turned.origin, (foot[0], foot[-1]))


def _is_about(circle: Circle, origin: Vec3, axis: Vec3) -> bool:
    """True for a circle about an axis; the mouth of a hole is none."""
    return off_axis(circle[0], origin, axis) < SAME_LENGTH


def _draft(shape: PartShape, recess: Recess, origin: Vec3, foot: tuple[float, float]) -> Draft:
    """The slot, told as straight ones are: width of its foot, depth from its mouth."""
    top = top_of(shape, recess)
    bottom = dot(shape.patches[recess.floors[0]].surface.origin, recess.axis)
    sizes: dict[str, object] = {
        "diameter": foot[0] + foot[1],
        "width": foot[1] - foot[0],
        "depth": top - bottom,
        "ends": "loop",
        "open_sides": 0,
        "bottom": "planar",
        "undercut": "dovetail: wider below than at its mouth",
    }
    place = add(origin, recess.axis, top - dot(origin, recess.axis))
    return Draft("slot", recess.patches, any_frame(place, recess.axis), (), sizes)
