"""How far off faces that it follows a step stays, and how deep it goes on them (setup's frame, mm).

An allowance is left square to a plane face: straight up that is ``1 / n`` as much, n the height of the unit normal, but
nothing stands higher over the face than the allowance over its upper end. Over bent faces it is left straight up. A tip
that may go no deeper than ``bottom_z`` touches a plane r (1 - n) higher; how deep a cutter goes on bent faces they say
themselves, which ``depth.short`` tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from schemas.base import dot, scale
from schemas.plan import Workingstep
from schemas.tolerances import COINCIDENT, LENGTH
from worker.kernel import boolean
from worker.kernel.graph_surface import normal_at, surface_of
from worker.kernel.shadow import face_facts
from worker.kernel.shape import Body, is_empty, translate_body
from worker.kernel.sweep import prism
from worker.stage.model import Floats, ResolvedStep, no_rides
from worker.stage.removal.crowns import lowest, raised
from worker.stage.removal.scene import Scene


@dataclass(frozen=True)
class Followed:
    """What a step takes above faces that it follows: solids, rides (``Cut.rides``), its tip, what it takes of the part,
    and what is to be said of it."""

    bodies: tuple[Body, ...]
    rides: Floats
    tip: float
    gouging: tuple[Body, ...]
    notes: tuple[str, ...]


def as_stated(
    scene: Scene, job: ResolvedStep, faces: Sequence[int], bodies: Sequence[Body], rides: Sequence[Floats]
) -> Followed:
    """What stands on each face (``bodies``) and the rides over it, as the step's allowance and depth have them."""
    each = [_of_face(scene, job, *one) for one in zip(faces, bodies, rides, strict=True)]
    found = tuple(body for one in each for body in one.bodies if not is_empty(body))
    up, bent = raised(job.step), any(_rise(scene, index) is None for index in faces)
    notes = ("The allowance is left straight up on faces that bend: square to them there is less.",)
    return Followed(
        found,
        np.concatenate([no_rides(), *(one.rides for one in each)]),
        min(one.tip for one in each),
        found if up < 0 else (),
        notes if up and bent else (),
    )


def _rise(scene: Scene, index: int) -> float | None:
    """Height of a plane face's unit normal; None for a face that bends."""
    surface = surface_of(face_facts(scene.sky.body)[index].face)[0]
    return dot(normal_at(surface, surface.origin), scene.frame.z) if surface.kind == "plane" else None


def _of_face(scene: Scene, job: ResolvedStep, index: int, body: Body, rides: Floats) -> Followed:
    n, own = _rise(scene, index), raised(job.step)
    up = own if n is None else own / n
    low = lowest(scene.sky, index)
    bodies = [translate_body(body, scale(scene.frame.z, up)) if up else body]
    rides = rides + np.array((0.0, 0.0, up))
    high = scene.sky.shown[index].high + own
    if up > own + COINCIDENT and high < scene.top - COINCIDENT:
        bodies += [prism(scene.sky.region(index), scene.frame, high, scene.top)]
    touched = -np.inf if n is None else _touched(job.step, job.tool.corner_radius, n)
    if touched <= low + up + LENGTH:
        return Followed(tuple(bodies), rides, low + up, (), ())
    room = prism(scene.sky.region(index), scene.frame, touched, scene.top) if touched < scene.top else None
    kept = [boolean.common(one, [room], merge=False) for one in bodies] if room else []
    assert job.step.bottom_z is not None
    rides = rides[rides[:, 2] > job.step.bottom_z - COINCIDENT]
    return Followed(tuple(kept), rides, job.step.bottom_z, (), ())


def _touched(step: Workingstep, r: float, n: float) -> float:
    """The lowest place that a corner of radius r touches on a plane."""
    return -np.inf if step.bottom_z is None else step.bottom_z + r * (1.0 - n)
