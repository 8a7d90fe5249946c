"""The order of recognition: outside planes, holes, transitions, recesses; then what is left over."""

from __future__ import annotations

from dataclasses import dataclass, replace

from schemas.base import Vec3, cross, norm
from schemas.feature import Feature
from schemas.tolerances import LEDGE, SQUARE
from worker.recognise.access import Sight
from worker.recognise.beside_channels import end_of, left_over, level_with, pocket_over, windows_in
from worker.recognise.chamfer_corners import corner_facets
from worker.recognise.channel_draft import channel_draft
from worker.recognise.channels import Channel, crossed_channels
from worker.recognise.crossed_kidneys import parted_from_kidneys
from worker.recognise.divided_kidneys import with_whole_kidneys
from worker.recognise.divided_loops import with_whole_rings
from worker.recognise.divided_rings import divided_rings, left_of_rings, level_with_rings
from worker.recognise.end_pieces import as_their_slots
from worker.recognise.fed_loops import with_fed_loops
from worker.recognise.flush_floors import with_flush_floors
from worker.recognise.hole_features import hole_drafts, with_feet
from worker.recognise.hole_stacks import Stack, find_stacks
from worker.recognise.ids import Draft, named
from worker.recognise.joining import joined
from worker.recognise.keyways import with_keyways
from worker.recognise.ledges import with_wide_slots
from worker.recognise.levels import by_floor
from worker.recognise.mouths import bent_chamfers
from worker.recognise.outside import (
    broad_faces,
    face_drafts,
    is_contour,
    is_outermost,
    is_round_end,
    main_axis,
    outer_planes,
    outline_of,
    profile_axes,
    profile_draft,
    ring_of,
)
from worker.recognise.over_channels import over_channels
from worker.recognise.over_reliefs import relieved_vees, with_grooved_floors
from worker.recognise.patches import PartShape
from worker.recognise.patterns import name_patterns
from worker.recognise.reading import read
from worker.recognise.recess_class import recess_drafts
from worker.recognise.recesses import Recess, components
from worker.recognise.regions import region_drafts
from worker.recognise.relieved_tails import relieved_tails
from worker.recognise.ring_grooves import ring_groove, with_whole_bosses
from worker.recognise.side_bays import parted_at_one_depth
from worker.recognise.slits import slit_drafts
from worker.recognise.slotted_bosses import with_slotted_bosses
from worker.recognise.tees import tee_drafts
from worker.recognise.threads import give_threads
from worker.recognise.transitions import cone_chamfers, edge_rounds, plane_chamfers, transition_drafts
from worker.recognise.trenches import over_trenches
from worker.recognise.troughs import over_ridges
from worker.recognise.undercut_rings import undercut_ring
from worker.recognise.undercuts import undercut_draft

HOLLOWED = ("slot", "closed_pocket", "open_pocket")
"""What has a width, a length and a depth, wherever it is told."""


def features_of(shape: PartShape) -> tuple[Feature, ...]:
    """All features of a part."""
    drafts = [_cuttable(draft) for draft in drafts_of(shape)]
    give_threads(shape, drafts)
    for slot in (d for d in drafts if d.class_ == "slot"):
        slot.sizes.setdefault("course_of_travel", "circular" if slot.sizes.get("diameter") else "linear")
    name_patterns(drafts)
    return named(drafts, shape)


def _cuttable(draft: Draft) -> Draft:
    """A draft as it is; a slot or pocket without any width, length or depth is none: a region of those faces."""
    sizes = (draft.sizes.get(name) for name in ("width", "length", "depth"))
    if draft.class_ in HOLLOWED and any(size is not None and size <= LEDGE for size in sizes):
        return replace(draft, class_="region", sizes={k: v for k, v in draft.sizes.items() if k == "undercut"})
    return draft


@dataclass(frozen=True, eq=False)
class _Sorted:
    """The patches of a part by what they may belong to."""

    outer: frozenset[int]
    stacks: list[Stack]
    chamfers: dict[int, dict[str, float]]
    corners: list[int]
    cones: list[int]
    blends: list[int]
    rounds: list[int]

    @property
    def in_holes(self) -> set[int]:
        return {p for s in self.stacks for p in s.patches if p not in s.chamfers}

    @property
    def moved(self) -> set[int]:
        """Transitions."""
        return {*self.chamfers, *self.corners, *self.cones, *self.rounds}


def _sorted(shape: PartShape, sight: Sight, outer: frozenset[int]) -> _Sorted:
    stacks = find_stacks(shape)
    main = main_axis(shape, outer, (s.axis for s in stacks))
    chamfers = plane_chamfers(shape, outer)
    drilled = {p for s in stacks for p in s.patches if p not in s.chamfers}
    cones = _mouths(stacks) + [c for c in cone_chamfers(shape, chamfers) if c not in drilled]
    cones += bent_chamfers(shape, {*chamfers, *cones})
    blends = edge_rounds(shape)
    corners = corner_facets(shape, chamfers)
    return _Sorted(outer, stacks, chamfers, corners, cones, blends, [r for r in blends if not _along(shape, r, main)])


def drafts_of(shape: PartShape) -> list[Draft]:
    """All features of a part, without names yet."""
    outer = outer_planes(shape)
    sight = Sight(shape, outer=outer)
    kinds = _sorted(shape, sight, outer)
    sight.chamfers = frozenset([*kinds.chamfers, *kinds.corners])
    drafts = hole_drafts(shape, sight, kinds.stacks)
    drafts += transition_drafts(shape, sight, kinds.chamfers, sorted(set(kinds.cones)), kinds.rounds, kinds.corners)
    drafts = with_feet(kinds.stacks, drafts)
    taken = kinds.in_holes | kinds.moved | outer
    groups = components(shape, [p.index for p in shape.patches if p.index not in taken])
    grooves = [groove for g in groups if (groove := ring_groove(shape, g))]
    axes = profile_axes(shape, outer)
    ringed = {d.patches for d in grooves}
    contours = [g for g in groups if g not in ringed and is_contour(shape, g, axes)]
    groups = [g for g in groups if g not in ringed and g not in contours and not _is_skin(shape, g)]
    lone = {g[0] for g in groups if len(g) == 1 and not shape.patches[g[0]].surface.hollow}
    hollows = _recess_features(shape, sight, kinds, [g for g in groups if g[0] not in lone], lone)
    found = grooves + [d for d in hollows if not _is_open_form(shape, d)]
    cut = {p for d in found for p in d.patches}
    broad = {p for g in contours for p in broad_faces(shape, sight, g, axes)}
    planes = [p for p in sorted(outer | lone | broad) if shape.patches[p].surface.kind == "plane"]
    planes = [p for p in planes if p not in kinds.moved and p not in cut]
    slits = slit_drafts(shape, sight, [p for p in planes if p not in outer])
    cut.update(p for d in slits for p in d.patches)
    drafts += found + slits + face_drafts(shape, sight, [p for p in planes if p not in cut])
    inside = {p for p in kinds.moved | lone if not is_outermost(shape, shape.patches[p])}
    ends = frozenset(p for p in cut if is_round_end(shape, shape.patches[p]))
    taken = kinds.in_holes | (cut - ends) | inside
    drafts += _profiles(shape, sight, outer - sight.chamfers, taken, ends)
    drafts = with_whole_bosses(shape, sight, drafts + _rest(shape, sight, drafts, kinds.blends), grooves)
    return with_slotted_bosses(shape, sight, drafts)


def _rest(shape: PartShape, sight: Sight, drafts: list[Draft], blends: list[int]) -> list[Draft]:
    """Rounded edges that turned out to be no contour, and what nothing takes."""
    done = {p for d in drafts for p in d.patches}
    late = [b for b in blends if b not in done]
    left = [p.index for p in shape.patches if p.index not in done and p.index not in late]
    return transition_drafts(shape, sight, {}, (), late) + region_drafts(shape, sight, left)


def _recess_features(
    shape: PartShape, sight: Sight, kinds: _Sorted, groups: list[tuple[int, ...]], lone: set[int]
) -> list[Draft]:
    rings = divided_rings(shape, sight, groups)
    groups = components(shape, left_of_rings(shape, rings, groups)) if rings else groups
    channels = crossed_channels(shape, groups, lone)
    groups = components(shape, left_over(shape, channels, groups)) if channels else groups
    parts = [r for g in groups for r in _beside(shape, sight, g, channels, rings) or read(shape, sight, g)]
    recesses, keyways = with_keyways(shape, sight, as_their_slots(shape, sight, parts))
    whole = [
        one
        for r in joined(shape, sight, over_ridges(shape, sight, recesses))
        for part in parted_from_kidneys(shape, sight, r) or parted_at_one_depth(shape, sight, r)
        for one in with_fed_loops(shape, sight, part)
    ]
    whole = with_whole_kidneys(shape, sight, whole)
    whole = with_whole_rings(shape, sight, whole, _sunk(kinds, whole, keyways))
    whole = over_trenches(shape, sight, with_wide_slots(shape, sight, whole))
    tails, beside = relieved_tails(shape, sight, _reliefs(kinds, whole), lone)
    lone = lone - {p for patches in (*(d.patches for d in tails), *(r.patches for r in beside)) for p in patches}
    whole, channels = _over_reliefs(shape, sight, kinds, whole + beside, (channels, lone))
    sunk = _sunk(kinds, whole, keyways)
    found, plain = tee_drafts(shape, sight, whole)
    found += tails
    found += [channel_draft(shape, c) for c in channels]
    outside = {*kinds.outer, *lone, *kinds.moved}
    round_ = [ring for r in plain if (ring := undercut_ring(shape, r))]
    gone = {p for ring in round_ for p in ring.patches}
    found += round_
    plain = [r for r in plain if not gone >= set(r.patches)]
    undercuts = [undercut_draft(shape, recess, outside) for recess in plain]
    sunk |= {p for draft in (*found, *undercuts) if draft for p in draft.patches}  # necks have walls of their own
    plain = [recess for recess, undercut in zip(plain, undercuts, strict=True) if not undercut]
    found += [undercut for undercut in undercuts if undercut]
    found += [d for r in over_channels(shape, sight, plain, found) for d in recess_drafts(shape, sight, r, sunk)]
    return found + keyways + rings


def _sunk(kinds: _Sorted, recesses: list[Recess], keyways: list[Draft]) -> frozenset[int]:
    """The patches of all holes and recesses."""
    own = (*(s.patches for s in kinds.stacks), *(r.patches for r in recesses), *(k.patches for k in keyways))
    return frozenset(p for patches in own for p in patches)


def _reliefs(kinds: _Sorted, recesses: list[Recess]) -> list[tuple[int, ...]]:
    """What may relieve the corners of others."""
    return [*(r.patches for r in recesses), *(s.patches for s in kinds.stacks)]


def _over_reliefs(
    shape: PartShape, sight: Sight, kinds: _Sorted, recesses: list[Recess], others: tuple[list[Channel], set[int]]
) -> tuple[list[Recess], list[Channel]]:
    """Recesses and channels, with what reliefs and grooves divide or cut off from its wall made whole."""
    channels, lone = others
    reliefs = _reliefs(kinds, recesses)
    vees = relieved_vees(shape, sight, reliefs, lone)
    free = lone - {p for vee in vees for p in vee.patches}
    recesses = with_grooved_floors(shape, sight, recesses, reliefs, free)
    free -= {p for r in recesses for p in r.patches}
    found, channels = with_flush_floors(shape, sight, recesses, channels, (free, [s.patches for s in kinds.stacks]))
    return found + vees, channels


def _is_skin(shape: PartShape, group: tuple[int, ...]) -> bool:
    """True for free forms of which one meets no other in a straight edge: no wall goes all round, whatever they are
    read as, and thousands take long to read."""
    members = set(group)
    patches = [shape.patches[p] for p in group]
    if any(patch.surface.kind != "other" for patch in patches):
        return False
    return not all(any(r.curve == "line" and r.other in members for r in patch.rims) for patch in patches)


def _is_open_form(shape: PartShape, draft: Draft) -> bool:
    """True for free forms that meet in a crease, with no wall all round: skin of the part, a region a smooth piece."""
    return draft.class_ != "closed_pocket" and all(shape.patches[p].surface.kind == "other" for p in draft.patches)


def _beside(
    shape: PartShape, sight: Sight, group: tuple[int, ...], channels: list[Channel], rings: list[Draft]
) -> list[Recess]:
    """A group as recesses that channels run in, or that cross those or rings at their depth; none for any other."""
    over = pocket_over(shape, sight, group, channels)
    if over:
        return by_floor(shape, sight, over)
    if windows := windows_in(shape, sight, group, channels):
        return windows
    end = end_of(shape, sight, group, channels)
    found = level_with(shape, sight, group, channels) or ([end] if end else [])
    return found or level_with_rings(shape, sight, group, rings)


def _mouths(stacks: list[Stack]) -> list[int]:
    return [c for s in stacks for c in s.chamfers]


def _along(shape: PartShape, patch: int, axis: Vec3 | None) -> bool:
    """True for a rounded edge that runs along the part's main axis: a corner of its contour."""
    surface = shape.patches[patch].surface
    return axis is not None and surface.kind == "cylinder" and norm(cross(surface.axis, axis)) < SQUARE


def _profiles(
    shape: PartShape, sight: Sight, outer: frozenset[int], taken: set[int], ends: frozenset[int]
) -> list[Draft]:
    found = []
    for axis in profile_axes(shape, outer):
        walls = tuple(p for p in ring_of(shape, axis, sorted(outer)) if p not in taken) or outline_of(
            shape, sight, axis, taken
        )
        if walls:
            found.append(profile_draft(shape, sight, axis, walls, ends))
    return found
