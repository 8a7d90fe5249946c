"""The field's own reading of a workingstep: from plan, features and tool to the solids it takes away.

A free form that the cutter may or may not be too large for is swept as far as it gets down (``reached``).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np

from schemas.feature import HOLES, Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH, OPENING_SLACK
from schemas.tool import MILLS, NEEDS_ANGLE, UNDERCUTTERS
from worker.field.arcs import Ints32, chords_of, level_rims
from worker.field.axial import Hole, holes_of, turned
from worker.field.beneath import over_what_crosses
from worker.field.bridged import bridged
from worker.field.clearing import Task, clear
from worker.field.crowded import settled
from worker.field.crowns import FOLLOW, goes_in_levels, in_levels, is_crown, is_rolled, is_rounded_off, looks_up
from worker.field.edge_sides import past_edge
from worker.field.feet import across_hollow, feet, sharp_foot
from worker.field.field import Solid
from worker.field.fitted import FITS_NONE, Fit, fit_of, following, hollow_radius, on_slopes, slanting
from worker.field.foothold import form_of, over_feet
from worker.field.ground import beyond, recess_ground, ring_ground, within
from worker.field.lines import Floats, Mask
from worker.field.off_faces import off_faces
from worker.field.open_ends import foot, foot_of_side, open_ends
from worker.field.outlines import below, raised
from worker.field.own import ALONE, Share, own_of, share_of
from worker.field.plane import Disc, Everywhere, Filled, Minus, Region, Shadow
from worker.field.ramps import over_ramp
from worker.field.reached import reached
from worker.field.scene import UPRIGHT, Scene
from worker.field.shallow import along_shallow
from worker.field.solids import Lifted
from worker.field.stated import CROWNED, FLATTISH, keeps_off, lift_of, passes
from worker.field.strips import strip
from worker.field.terraced import parted_at
from worker.field.undercut import undercut
from worker.field.uneven import under_flank
from worker.field.vees import along_vee
from worker.part import RECESSES, Part
from worker.stage.model import Cut

ROUNDED = frozenset({"flat_with_radius", "spherical"})
UNDERCUT = RECESSES | {"region"}
SEEN = math.cos(math.radians(ANGLE))
"""Cosine between the spindle's axis and an access direction that is the same."""
FLANK_ANGLE = 0.75
"""Triangles of a conical chamfer stand this much off it at most (degrees)."""


def sweep(scene: Scene, part: Part, cut: Cut) -> list[Solid]:
    """The solids of one step; empty where it takes nothing."""
    if cut.step.operation == "edge_breaking":
        return []
    return [solid for feature in cut.features for solid in _of_feature(scene, part, cut, feature)]


def _of_feature(scene: Scene, part: Part, cut: Cut, feature: Feature) -> Sequence[Solid]:
    if feature.id in cut.followed:
        return over_ramp(scene, feature.faces, cut.tool)
    if cut.tool.type in UNDERCUTTERS and feature.class_ in UNDERCUT and not _seen(scene, feature):
        return undercut(scene, cut, feature, own_of(scene, part, feature))
    if feature.class_ in HOLES:
        return _hole(scene, part, cut, feature)
    if feature.class_ == "chamfer":
        followed = cut.step.operation == FOLLOW
        return _followed(scene, cut, feature) if followed else _chamfer(scene, part, cut, feature)
    if feature.class_ == "edge_round":
        return _edge_round(scene, cut, feature)
    if feature.class_ == "planar_face":
        if cut.step.operation == FOLLOW and not feature.bosses and _leans(scene, feature):
            return _followed(scene, cut, feature)
        return _plane(scene, part, cut, feature)
    if feature.class_ in CROWNED and is_crown(scene, feature):
        return in_levels(scene, cut, feature) if goes_in_levels(cut) else _followed(scene, cut, feature)
    if is_rounded_off(scene, feature) and keeps_off(cut):
        return in_levels(scene, cut, feature)
    if feature.class_ == "boss":
        return []
    if feature.class_ == "profile_feature":
        return _profile(scene, cut, feature)
    if cut.tool.type in NEEDS_ANGLE:
        return along_vee(scene, cut, feature)
    if feature.class_ == "region":
        return _followed(scene, cut, feature)
    return _recess(scene, cut, feature, share=share_of(scene, part, feature))


def _hole(scene: Scene, part: Part, cut: Cut, feature: Feature) -> list[Solid]:
    found = holes_of(scene, feature, [part.feature(id) for id in feature.elements])
    if cut.step.operation != "back_boring" and not _seen(scene, feature):
        found = [hole for hole in found if _seen(scene, hole.feature)]
    if not found:
        return []
    if cut.tool.type in MILLS and cut.step.operation not in ("drilling", "multistep_drilling", "back_boring"):
        return [solid for hole in found if not hole.tapered for solid in _milled_out(scene, cut, hole)]
    body = turned(scene, cut, found)
    return [] if body is None else [body]


def _seen(scene: Scene, feature: Feature) -> bool:
    """True when the spindle's side is one of the feature's access directions."""
    axis, sign = scene.view.axes[2], scene.view.signs[2]
    return any(direction[axis] * sign > SEEN for direction in feature.access)


def _milled_out(scene: Scene, cut: Cut, hole: Hole) -> list[Solid]:
    if hole.feature.bottom in ROUNDED:
        return _recess(scene, cut, hole.feature, (hole.x, hole.y))
    radius = hole.diameter / 2
    disc = Disc(hole.x, hole.y, radius)
    radius += max(-cut.step.allowance_side, 0.0)  # as far as it goes past the wall
    plunges = abs(radius - cut.tool.radius) <= OPENING_SLACK
    only = Disc(hole.x, hole.y, min(radius, cut.tool.radius) - OPENING_SLACK) if plunges else None
    lowered = cut.step.overcut_length if hole.through else 0.0
    return [*clear(scene, cut, Task(disc, hole.bottom, disc, lowered, only=only))]


def _plane(scene: Scene, part: Part, cut: Cut, feature: Feature) -> list[Solid]:
    """All above the plane; of one that stands upright, all beyond it, down to its lower end."""
    standing = [face for id in feature.bosses for face in part.feature(id).faces]
    mine = scene.part[scene.of(feature) & (scene.looks > 1 - UPRIGHT)]
    if not len(mine) and _leans(scene, feature):
        mine = scene.part[scene.of(feature)]  # a flat cutter gets down to its upper end
    if len(mine):
        level = float(mine[:, :, 2].max())
        hollow = feet(scene, standing, level)
        task = Task(Everywhere(), level, Shadow(mine), fit=_sunk(cut, level, _fit(scene, cut, feature, hollow)))
        return [*settled(scene, cut, task, lambda other: _fit(scene, other, feature, hollow))]
    if not _upright(scene, feature):
        return []
    x, y, _ = scene.view.to_setup(np.array(feature.placement.location)).tolist()
    tip = np.array(feature.placement.location) + np.array(feature.placement.z)
    u, v, _ = scene.view.to_setup(tip).tolist()
    low = foot_of_side(scene, part, feature)
    return [*clear(scene, cut, Task(beyond((x, y), (u - x, v - y)), low, lowered=cut.step.overcut_length))]


def _leans(scene: Scene, feature: Feature) -> bool:
    """True when all of the feature's faces look up, and none is level."""
    looks = scene.looks[scene.of(feature)]
    looks = looks[np.isfinite(looks)]
    return bool(len(looks)) and bool(np.all((looks > UPRIGHT) & (looks < 1 - UPRIGHT)))


def _upright(scene: Scene, feature: Feature) -> bool:
    """True when all of the feature's faces run along the spindle's axis."""
    looks = scene.looks[scene.of(feature)]
    return bool(np.all(np.abs(looks[np.isfinite(looks)]) <= UPRIGHT))


def _profile(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """All outside what stands above the profile's bottom."""
    if not _upright(scene, feature):
        return []
    nominal = foot(scene, feature)
    outside = Minus(Everywhere(), Filled(scene.shadow(nominal + COINCIDENT), scene.scan_lines))
    return [*clear(scene, cut, Task(outside, nominal, lowered=cut.step.overcut_length, outside=True))]


def _recess(
    scene: Scene, cut: Cut, feature: Feature, axis: tuple[float, float] | None = None, share: Share = ALONE
) -> list[Solid]:
    """From the floor, or the lower end of a ring of walls, up; ``axis``: that of a hole."""
    mine = scene.of(feature)
    floors, fit = scene.up_of(feature.faces), _fit(scene, cut, feature, feature.faces, share.crossing)
    if len(floors):
        highest = float(scene.part[mine][:, :, 2].max())
        ground = recess_ground(floors, scene.shadow, highest, share.own, share.around, share.holes)
        seed = _seed(scene, feature, share)
        if share.others is not None:
            ground, seed = Minus(ground, share.others), Minus(seed, share.others)
        bottom = float(floors[:, :, 2].min())
        slope = bool(np.ptp(floors[:, :, 2], axis=1).max() > COINCIDENT)
        fit = _sunk(cut, bottom, over_what_crosses(scene, fit, ground))
        shallow = along_shallow(scene, cut, fit, ground)
        if shallow is not None:
            return [shallow]
        top = _top_of_slopes(scene, feature, fit)
        if top is None and fit.barred:
            fit = FITS_NONE
            top = _top_of_slopes(scene, feature, fit)
        if top is not None and fit.passed:
            fit = on_slopes(scene, cut, fit, floors)
            top = _top_of_slopes(scene, feature, fit)
        task = Task(ground, bottom, seed, beside=slope, axis=axis, sloping=top, fit=fit)
        found = (
            clear(_at_terraces(scene, cut, feature, bottom, top), cut, task)
            if top is not None
            else settled(scene, cut, task, lambda other: _fit(scene, other, feature, feature.faces, share.crossing))
        )
        walled = bool(np.any(np.abs(scene.looks[mine]) <= UPRIGHT))
        return [*found] if walled or any(level.layers for level in found) else _followed(scene, cut, feature)
    upright = mine & (np.abs(scene.looks) <= UPRIGHT)
    walls = scene.part[upright]
    rings = ring_ground(walls, scene.owner[upright]) if len(walls) else None
    if rings is None or _seen_from_behind(scene, feature):
        return []
    low = min([float(walls[:, :, 2].min()) if share.foot is None else share.foot, *open_ends(scene, feature)])
    stand = _own_size(scene, cut, walls, scene.owner[upright])
    ground = share.ring or rings.ground
    return [*clear(scene, cut, Task(ground, low, rings.core, cut.step.overcut_length, axis=stand))]


def _at_terraces(scene: Scene, cut: Cut, feature: Feature, bottom: float, top: float) -> Scene:
    """The scene with the feature's round bottoms as wide as they are at the heights of the passes over them."""
    stated, raised = cut.step.bottom_z, max(cut.step.allowance_bottom, 0.0)
    tip, raised = (bottom + cut.step.allowance_bottom, raised) if stated is None else (stated, 0.0)
    heights = [z - raised + COINCIDENT for z in passes(cut, tip, top + raised)]
    return parted_at(scene, feature.faces, heights)


def _own_size(scene: Scene, cut: Cut, walls: Floats, owner: Ints32) -> tuple[float, float] | None:
    """The axis of the one round wall that is as wide as the cutter: where it stands within a ring that nothing else
    lets it into, in a groove along a bore say, whose lips are narrower."""
    radius = cut.tool.radius + cut.step.allowance_side
    found = chords_of(walls, owner).circles
    found = found[np.abs(found[:, 2] - radius) <= OPENING_SLACK]
    if not len(found) or np.ptp(found[:, :2], axis=0).max() > OPENING_SLACK:
        return None
    return float(found[0, 0]), float(found[0, 1])


def _fit(scene: Scene, cut: Cut, feature: Feature, hollow: Collection[int], crossing: Sequence[int] = ()) -> Fit:
    """How the corner fits the hollow faces beside the feature's floor; its own round counts where a wall has none."""
    fit = fit_of(scene, cut, hollow, crossing)
    if not fit.followed or fit.onward:
        return fit
    own = sorted(fit.followed & set(feature.faces))
    return replace(fit, onward=sharp_foot(scene, feature.faces, fit.passed) or across_hollow(scene, own))


def _sunk(cut: Cut, bottom: float, fit: Fit) -> Fit:
    """The fit where a stated depth goes below the floor: the cutter goes through the hollow faces, and its own round
    ends what it clears."""
    below = cut.step.bottom_z is not None and cut.step.bottom_z < bottom - COINCIDENT
    return Fit(tighter=fit.passed) if below else fit


def _followed(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """What stands on the faces that the cutter follows; on those that may be too tight for it as far as it gets down.

    Of the latter the solid model takes all or nothing: that alone is asked of it, and nothing taken is no pass.
    """
    seen, unsure = following(scene, cut, feature)
    rolled = [face for face in feature.faces if feature.class_ in CROWNED and is_rolled(scene, face)]
    unsure += rolled if cut.tool.corner_radius > LENGTH else []
    bulging = [face for face in unsure if form_of(scene.up_of([face])) is not None]
    seen, unsure = [*seen, *bulging], [face for face in unsure if face not in bulging]
    seen = [face for face in seen if _taken(cut, scene.up_of([face]))]
    rounded = cut.tool.corner_radius > LENGTH
    each = over_feet(scene, seen, cut.tool) if rounded else {face: scene.up_of([face]) for face in seen}
    found, up = _lifted(scene, cut, each), np.array((0.0, 0.0, lift_of(cut)))
    tried = (scene.up_of([face]) for face in unsure)
    return [*found, *(reached(scene.view, scene.top, one + up, cut.tool) for one in tried if _taken(cut, one))]


def _lifted(scene: Scene, cut: Cut, each: Mapping[int, Floats]) -> list[Solid]:
    """All above faces that are followed, as far off as the step says."""
    faces = off_faces(scene, cut, each)
    return [Lifted(scene.view, faces, scene.top)] if len(faces) else []


def _taken(cut: Cut, faces: Floats) -> bool:
    """Whether the step covers the middle of the largest triangle."""
    across = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    middle = faces[np.argmax(across[:, 2]), :, :2].mean(axis=0)
    return bool(cut.plan.holds(middle[None])[0])


def _seen_from_behind(scene: Scene, feature: Feature) -> bool:
    """Whether a face looks down and none up: a floor's back, through which nothing gets in."""
    return bool(np.any(scene.looks[scene.of(feature)] < -UPRIGHT))


def _seed(scene: Scene, feature: Feature, share: Share) -> Region:
    """Where the cut begins: over its floor, of a shared floor over its own rectangle; not over what stands there,
    unless that is all the floor there is, seen from aside."""
    low = scene.up_of([face for face in feature.faces if face not in share.standing])
    whole = Shadow(low if len(low) else scene.up_of(feature.faces))
    return whole if share.own is None else within(whole, share.own, range(4))


def _top_of_slopes(scene: Scene, feature: Feature, fit: Fit) -> float | None:
    """Where the feature's floors end that are not level and look more upwards than aside on the whole, but for those
    that the corner fits; or are round bottoms."""
    found = {face: triangles for face, triangles in slanting(scene, feature.faces) if face not in fit.passed}
    bent = found if feature.class_ in RECESSES else {}
    hollow = {face: mine for face, mine in bent.items() if (hollow_radius(mine) or 0.0) < math.inf}
    floors = [face for face, mine in found.items() if _is_floor(mine)]
    return max((float(found[face][:, :, 2].max()) for face in {*floors, *bridged(hollow)}), default=None)


def _is_floor(triangles: Floats) -> bool:
    across = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return bool(across[:, 2].sum() > FLATTISH * np.linalg.norm(across, axis=1).sum())


def _chamfer(scene: Scene, part: Part, cut: Cut, feature: Feature) -> list[Solid]:
    """What stands on the chamfer and past the tool's flank, which touches it all over or along one edge."""
    if _upright(scene, feature):
        return _edge_side(scene, cut, feature)
    half = cut.tool.flank_half_angle
    if half is None:
        return _level_chamfers(scene, part, cut, feature)
    mine = scene.of(feature) & (scene.looks > UPRIGHT) & (scene.looks < 1 - UPRIGHT)
    if not mine.any():
        return []
    each = [mine & (scene.owner == face) for face in np.unique(scene.owner[mine]) if looks_up(scene, face)]
    ends = None if cut.step.bottom_z is None else _flank_ends(scene, cut, cut.step.bottom_z, each)
    found = [_on_flank(scene.part[one], scene.looks[one], half, ends) for one in each]
    faces = np.concatenate([np.zeros((0, 3, 3)), *found])
    return [Lifted(scene.view, faces, scene.top)] if len(faces) else []


def _level_chamfers(scene: Scene, part: Part, cut: Cut, feature: Feature) -> list[Solid]:
    """All above each of the chamfer's faces that lies square to the spindle, by the end of a mill."""
    level = np.unique(scene.owner[scene.of(feature) & (scene.looks > 1 - UPRIGHT)])
    each = [feature.model_copy(update={"faces": (int(face),)}) for face in level if cut.tool.type in MILLS]
    return [solid for one in each for solid in _plane(scene, part, cut, one)]


def _edge_side(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """All past an upright chamfer or round, down to its lower end."""
    if cut.tool.type not in MILLS:
        return []
    mine = scene.of(feature)
    walls, past = scene.part[mine], past_edge(scene.part[mine], scene.owner[mine], cut.tool.radius)
    return [*clear(scene, cut, Task(past, float(walls[:, :, 2].min()), lowered=cut.step.overcut_length))]


def _flank_ends(scene: Scene, cut: Cut, tip: float, each: Sequence[Mask]) -> tuple[float, float] | None:
    """From where to where the flank reaches whose tip is stated; None where all of the chamfer lies on it: the tip of a
    pointed cutter climbs along with edges that do."""
    top = tip + cut.tool.point_length
    strips = [strip(scene.part[one]) if cut.tool.type in NEEDS_ANGLE else None for one in each]
    heights = [one.band for one in strips if one is not None]
    if len(heights) < len(each):
        heights = [(float(z.min()), float(z.max())) for z in (scene.part[one][:, :, 2] for one in each)]
    whole = all(tip <= low + COINCIDENT and high <= top + COINCIDENT for low, high in heights)
    return None if whole else (tip, top)


def _on_flank(faces: Floats, looks: Floats, half: float, ends: tuple[float, float] | None) -> Floats:
    """Triangles of one face, brought up to the flank; of a face without a slope of its own by what may stay there."""
    slope, slack = _slope_of(faces, looks)
    if math.isinf(slack):
        faces = under_flank(faces, np.degrees(np.arcsin(np.clip(looks, -1.0, 1.0))), half)
    if ends is not None:
        faces = below(faces, ends[1])
    if abs(slope - half) > slack:
        faces = _touched(faces, slope, half)
    return faces if ends is None else raised(faces, ends[0])


def _touched(faces: Floats, slope: float, half: float) -> Floats:
    """The same by a flank of another slope, which touches a strip, or a cone, along its upper or its lower side."""
    flat = strip(faces)
    found = flat.on_flank(faces, half) if flat is not None else None
    if found is not None:
        return found
    z, found = faces[:, :, 2], faces.copy()
    touching = float(z.max() if half > slope else z.min())
    found[:, :, 2] = touching + math.tan(math.radians(slope)) / math.tan(math.radians(half)) * (z - touching)
    return found


def _slope_of(faces: Floats, looks: Floats) -> tuple[float, float]:
    """How far a flat face, or a cone about an upright axis, stands off that axis (degrees), and how surely; of others
    nothing is told.

    Triangles between two round rims lean to either side of the cone, by more the narrower it is: its rims tell.
    """
    slopes = np.degrees(np.arcsin(np.clip(looks, -1.0, 1.0)))
    middle = float(np.median(slopes))
    off = float(np.abs(slopes - middle).max())
    rims = level_rims(faces) if off > ANGLE else []
    if len(rims) == 2 and np.hypot(*(rims[0] - rims[1])[:2]) < LENGTH:
        rise = float(np.ptp(faces[:, :, 2]))
        return math.degrees(math.atan2(abs(float(rims[0][2] - rims[1][2])), rise)), FLANK_ANGLE
    return middle, ANGLE if off <= ANGLE else FLANK_ANGLE if off <= FLANK_ANGLE else math.inf


def _edge_round(scene: Scene, cut: Cut, feature: Feature) -> list[Solid]:
    """What stands on the round's faces, where the tool's form is theirs or its corner can follow them."""
    if _upright(scene, feature):
        return _edge_side(scene, cut, feature)
    formed = cut.tool.type not in MILLS and abs((cut.tool.RE or 0.0) - (feature.radius or 0.0)) <= LENGTH
    if not (formed or cut.tool.corner_radius > LENGTH):
        return []
    seen = [face for face in feature.faces if looks_up(scene, face) and _taken(cut, scene.up_of([face]))]
    own = {face: scene.up_of([face]) for face in seen}
    return _lifted(scene, cut, own if formed else over_feet(scene, seen, cut.tool))
