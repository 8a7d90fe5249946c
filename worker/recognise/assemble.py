"""The order of recognition: outside planes, holes, transitions, recesses; then what is left over."""

from __future__ import annotations

from schemas.base import Vec3, any_frame, cross, norm, scale
from schemas.feature import Feature
from schemas.tolerances import SQUARE
from worker.recognise.access import Sight
from worker.recognise.hole_features import hole_drafts
from worker.recognise.holes import Stack, find_stacks
from worker.recognise.ids import Draft, named
from worker.recognise.joining import joined
from worker.recognise.outside import (
    face_drafts,
    main_axis,
    outer_planes,
    outline_of,
    profile_axes,
    profile_draft,
    ring_of,
)
from worker.recognise.patches import PartShape
from worker.recognise.patterns import name_patterns
from worker.recognise.recess_class import recess_drafts
from worker.recognise.recesses import Recess, components, read
from worker.recognise.threads import give_threads
from worker.recognise.transitions import cone_chamfers, edge_rounds, plane_chamfers, transition_drafts
from worker.recognise.undercuts import undercut_draft


def features_of(shape: PartShape) -> tuple[Feature, ...]:
    """All features of a part."""
    drafts = drafts_of(shape)
    give_threads(shape, drafts)
    for slot in (d for d in drafts if d.class_ == "slot"):
        slot.sizes["course_of_travel"] = "circular" if slot.sizes.get("diameter") else "linear"
    name_patterns(drafts)
    return named(drafts, shape)


def drafts_of(shape: PartShape) -> list[Draft]:
    """All features of a part, without names yet."""
    outer = outer_planes(shape)
    sight = Sight(shape, outer=outer)
    stacks = find_stacks(shape, sight)
    in_holes = {p for s in stacks for p in s.patches if p not in s.chamfers}
    main = main_axis(shape, outer, (s.axis for s in stacks))
    chamfers = plane_chamfers(shape)
    cones = _mouths(stacks) + [c for c in cone_chamfers(shape, chamfers) if c not in in_holes]
    blends = edge_rounds(shape)
    rounds = [r for r in blends if not _along(shape, r, main)]
    moved = {*chamfers, *cones, *rounds}
    free = [p.index for p in shape.patches if p.index not in outer and p.index not in in_holes | moved]
    drafts = hole_drafts(shape, sight, stacks)
    drafts += transition_drafts(shape, sight, chamfers, sorted(set(cones)), rounds)
    groups = components(shape, free)
    left = [g[0] for g in groups if len(g) == 1 and not shape.patches[g[0]].surface.hollow]
    recesses = [r for g in groups if g[0] not in left for r in read(shape, sight, g)]
    found = _recess_features(shape, sight, joined(shape, sight, recesses), {*outer, *left, *moved})
    cut = {p for d in found for p in d.patches}
    drafts += found
    planes = [p for p in sorted({*outer, *left}) if shape.patches[p].surface.kind == "plane"]
    planes = [p for p in planes if p not in moved and p not in cut]
    drafts += face_drafts(shape, sight, planes)
    drafts += _profiles(shape, sight, outer - set(chamfers), in_holes | cut)
    done = {p for d in drafts for p in d.patches}
    late = [b for b in blends if b not in done]
    drafts += transition_drafts(shape, sight, {}, (), late)
    return drafts + _regions(shape, sight, [p.index for p in shape.patches if p.index not in done | set(late)])


def _recess_features(shape: PartShape, sight: Sight, recesses: list[Recess], lone: set[int]) -> list[Draft]:
    found = []
    for recess in recesses:
        undercut = undercut_draft(shape, recess, lone)
        found += [undercut] if undercut else recess_drafts(shape, sight, recess)
    return found


def _mouths(stacks: list[Stack]) -> list[int]:
    return [c for s in stacks for c in s.chamfers]


def _along(shape: PartShape, patch: int, axis: Vec3 | None) -> bool:
    """True for a rounded edge that runs along the part's main axis: a corner of its contour."""
    surface = shape.patches[patch].surface
    return axis is not None and surface.kind == "cylinder" and norm(cross(surface.axis, axis)) < SQUARE


def _profiles(shape: PartShape, sight: Sight, outer: frozenset[int], taken: set[int]) -> list[Draft]:
    found = []
    for axis in profile_axes(shape, outer):
        walls = tuple(p for p in ring_of(shape, axis, sorted(outer)) if p not in taken) or outline_of(
            shape, sight, axis, taken
        )
        if walls:
            found.append(profile_draft(shape, sight, axis, walls))
    return found


def _regions(shape: PartShape, sight: Sight, left: list[int]) -> list[Draft]:
    """Faces that no simple class takes, grouped where they touch smoothly."""
    found = []
    waiting = sorted(left)
    while waiting:
        group, queue = [], [waiting[0]]
        while queue:
            index = queue.pop()
            if index in waiting:
                waiting.remove(index)
                group.append(index)
                queue += [o for o in shape.patches[index].smooth if o in waiting]
        found.append(_region(shape, sight, tuple(sorted(group))))
    return found


def _region(shape: PartShape, sight: Sight, group: tuple[int, ...]) -> Draft:
    """A free-form area, seen from those outer sides of the part that see all of it."""
    tried = sight.distinct([*(shape.patches[p].surface.axis for p in sorted(sight.outer)), *seen_along(shape, group)])
    access = tuple(d for d in tried if sight.sees(group, d))
    patch = shape.patches[group[0]]
    return Draft("region", group, any_frame(patch.point, access[0] if access else patch.normal), access)


def seen_along(shape: PartShape, group: tuple[int, ...]) -> list[Vec3]:
    """The axes of round faces of a group, both ways."""
    axes = [shape.patches[p].surface.axis for p in group if shape.patches[p].surface.kind in ("cylinder", "cone")]
    return [d for a in axes for d in (a, scale(a, -1.0))]
