"""Facts about cut stages that several rules and the report share, computed once: what is left, who finishes what."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame
from schemas.tolerances import BALANCE, LEFT_OVER, MESH, TOUCH, VOLUME_NOTHING
from worker.kernel.errors import KernelError
from worker.kernel.journal import note
from worker.kernel.mesh import triangulate
from worker.kernel.planar import Region
from worker.kernel.probe import Points
from worker.kernel.shape import EMPTY, Body
from worker.part import Part
from worker.residual import Lump, covered_features, lacking, standing, standing_aside, standing_by_meshes
from worker.stage.model import Stage

RAW = "rawpiece"
"""``finished_in`` of a feature whose faces are those of the blank."""
PROBES = 4
"""Points looked at on each face of the part: the middles of its largest triangles."""
ROUGHLY = 10.0
"""So many times BALANCE may go astray where a stock that fuzzy cuts have made defeats all other ways."""
ABOVE = 2.5 * MESH
"""Height of the points over the triangles (mm): chords of a round face lie up to MESH below it."""


@dataclass(frozen=True)
class Finish:
    """What is left on the part at the end, and who took the last metal off each feature.

    ``residual`` are the lumps left after the last setup. ``reached`` maps (setup id, step id) to the features that
    this step takes metal off. ``finished_in`` maps a feature's id to the setup that takes the last metal off it
    ("rawpiece" where nobody had to); features with metal left on them are absent. ``fault`` is why nothing is known
    of what is left, where it is not; ``residual`` and ``finished_in`` are then empty. ``lost`` is metal of the part
    that the last stock lacks though no step was found to cut into it.
    """

    residual: tuple[Lump, ...]
    reached: Mapping[tuple[str, str], tuple[str, ...]]
    finished_in: Mapping[str, str]
    fault: str = ""
    lost: Body = EMPTY


Taken = dict[str, tuple[str, ...]]
"""The features that each step of a setup takes metal off, by the step's id."""
Probes = tuple[NDArray[np.float64], NDArray[np.int32]]
"""Points just above the part's faces (N, 3) in mm, and the index of the face below each (N,)."""


class Keep:
    """Where a caller may keep what depends on less than all setups; here everything is computed."""

    def taken(self, stage: Stage, compute: Callable[[], Taken]) -> Taken:
        """What a setup takes."""
        return compute()

    def probes(self, compute: Callable[[], Probes]) -> Probes:
        """The points that are asked for."""
        return compute()


def finish_of(part: Part, stages: Sequence[Stage], keep: Keep | None = None) -> Finish:
    """Exact for what is left; by points just above the part's faces for who took what."""
    try:
        reached = _reached(part, stages, keep or Keep())
        if not all(stage.result.known for stage in stages):
            return Finish((), reached, {}, "no solid model gave the metal of every setup")
        residual = () if _nothing_left(part, stages) else _standing(part, stages)
        lost = _lost(part, stages, residual)
    except KernelError as error:
        return Finish((), {}, {}, str(error))
    return Finish(residual, reached, _finished_in(part, reached, covered_features(residual)), lost=lost)


def _standing(part: Part, stages: Sequence[Stage]) -> tuple[Lump, ...]:
    """What the last setup leaves on the part: by solids, or by meshes where the metal is faceted or solids fail."""
    last = stages[-1]
    if last.result.facets:
        return standing_by_meshes(part, last.to_be)
    try:
        return _no_more_than_there_is(part, stages, standing(part, last.to_be))
    except KernelError as error:
        why = error.detail or error.step
    for way in (standing_by_meshes, _standing_roughly, standing_aside):
        try:
            found = way(part, last.to_be)
        except KernelError:
            continue
        if way is standing_aside and _is_long(part, stages, found):
            break
        if way is standing_by_meshes:
            note(f"What is left on the part was computed by meshes, because solids failed ({why}).")
        return found
    raise KernelError("cut", f"what is left on the part cannot be computed ({why})")


def _standing_roughly(part: Part, stock: Body) -> tuple[Lump, ...]:
    """With room for a stock whose volume is not sure to BALANCE, as fuzzy cuts make it: what is found is told. That
    nothing is left is not taken from it."""
    found = standing(part, stock, ROUGHLY * BALANCE)
    if not found:
        raise KernelError("cut", "nothing was found to be left")
    return found


def _lost(part: Part, stages: Sequence[Stage], lumps: tuple[Lump, ...]) -> Body:
    """Looked for only where volumes leave room for it. That a step does not cut into the part is asked near its sweep
    alone: what was left out there by mistake nobody else would miss."""
    last = stages[-1]
    if not _holds_the_part(stages) or not (last.result.facets or _is_short(part, last, lumps)):
        return EMPTY
    return lacking(part, last.to_be)


def _is_short(part: Part, last: Stage, lumps: tuple[Lump, ...]) -> bool:
    """Whether the last stock is smaller than the part and what stands on it together."""
    spare = last.balance.to_be - part.volume
    return sum(lump.volume for lump in lumps) > spare + LEFT_OVER * part.volume + VOLUME_NOTHING


def _is_long(part: Part, stages: Sequence[Stage], lumps: tuple[Lump, ...]) -> bool:
    """Whether a last stock that holds the part is larger than the part and what stands on it together."""
    spare = stages[-1].balance.to_be - part.volume
    return _holds_the_part(stages) and sum(lump.volume for lump in lumps) < spare - LEFT_OVER * part.volume


def _no_more_than_there_is(part: Part, stages: Sequence[Stage], lumps: tuple[Lump, ...]) -> tuple[Lump, ...]:
    """The lumps; raises KernelError where a stock that holds the part is not as much larger: planes that lean against
    each other by a millionth of a degree, as an axis of six digits does to a face, gave the part itself."""
    if _holds_the_part(stages) and _is_short(part, stages[-1], lumps):
        spare, found = stages[-1].balance.to_be - part.volume, sum(lump.volume for lump in lumps)
        raise KernelError("cut", f"{found:.2f} mm3 were left of {spare:.2f} mm3 that the stock has more than the part")
    return lumps


def _nothing_left(part: Part, stages: Sequence[Stage]) -> bool:
    """True when the last stock still holds the whole part and has its very volume: then it is the part."""
    return _holds_the_part(stages) and abs(stages[-1].balance.to_be - part.volume) <= VOLUME_NOTHING


def _holds_the_part(stages: Sequence[Stage]) -> bool:
    """The last stock holds the part when every stage carried on from the one before and no step cut into the part."""
    whole = all(cut.gouge is None and not cut.gouge_fault for stage in stages for cut in stage.cuts)
    return whole and all(b.as_is is a.to_be for a, b in pairwise(stages))


def _reached(part: Part, stages: Sequence[Stage], keep: Keep) -> dict[tuple[str, str], tuple[str, ...]]:
    probes = cache(lambda: keep.probes(lambda: _probes(part)))
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for stage in stages:
        taken = keep.taken(stage, partial(_taken, part, stage, probes))
        found |= {(stage.setup.id, step): features for step, features in taken.items()}
    return found


def _taken(part: Part, stage: Stage, probes: Callable[[], Probes]) -> Taken:
    above, owners = probes()
    points = Points(above, owners)
    place = {feature.id: i for i, feature in enumerate(part.features)}
    found: Taken = {}
    for cut in stage.cuts:
        may = partial(_under, cut.plan, stage.frame) if cut.plan else None
        features = {id for face in points.faces_inside(cut.removal, may) for id in part.feature_of_face(face)}
        found[cut.step.id] = tuple(sorted(features, key=place.__getitem__))
    return found


def _under(plan: Region, frame: Frame, points: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of the points (n, 3) the tool passes over, or beside at a touch: it takes nothing elsewhere."""
    seen = (points - frame.location) @ np.array([frame.x, frame.y]).T
    return np.asarray(plan.signed_distance(seen) > -TOUCH)


def _probes(part: Part) -> Probes:
    vertices, triangles, owners = triangulate(part.body, swift=True)
    corners = vertices[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(normals, axis=1)
    order = np.lexsort((np.arange(len(areas)), -np.round(areas, 6), owners))
    rank = np.arange(len(order)) - np.searchsorted(owners[order], owners[order])
    chosen = order[(rank < PROBES) & (areas[order] > 0)]
    above = corners[chosen].mean(axis=1) + ABOVE * normals[chosen] / areas[chosen, None]
    return above, owners[chosen]


def _finished_in(
    part: Part, reached: Mapping[tuple[str, str], tuple[str, ...]], unfinished: frozenset[str]
) -> dict[str, str]:
    last: dict[str, str] = {}
    for (setup, _), features in reached.items():
        last.update(dict.fromkeys(features, setup))
    return {f.id: last.get(f.id, RAW) for f in part.features if f.id not in unfinished}
