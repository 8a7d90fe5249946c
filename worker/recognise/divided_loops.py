"""Pockets and grooves that close on themselves, cut in pieces by something deeper, or a hole: floors on one level.

What lies between may be anything: pieces whose walls, put end to end, make whole rings are put together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

from schemas.base import Vec3, add, dot, norm, sub, unit
from schemas.tolerances import SAME_LENGTH, SQUARE
from worker.kernel import linked
from worker.recognise.access import Sight
from worker.recognise.divided_outlines import Chain, chains_of, closed
from worker.recognise.holes import crossings
from worker.recognise.loops import cut_loop, gap_of
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.through_slots import OVER

Piece = tuple[int, tuple[Chain, ...]]
"""The number of a recess with its chains of walls, one of them open at least."""


def with_whole_rings(shape: PartShape, sight: Sight, recesses: Sequence[Recess], sunk: frozenset[int]) -> list[Recess]:
    """The recesses, pieces of one put together. ``sunk``: the patches of all holes and recesses."""
    for found in (_loops, _pockets):
        levels: dict[int, list[Piece]] = {}
        for number, recess in enumerate(recesses):
            if chains := _chains(shape, recess, sunk):
                levels.setdefault(shape.carriers[recess.floors[0]], []).append((number, tuple(chains)))
        several = [pieces for pieces in levels.values() if len(pieces) > 1 and not _are_whole(shape, recesses, pieces)]
        pairs = [
            pair for pieces in several for group in found(shape, recesses, pieces, sunk) for pair in pairwise(group)
        ]
        groups = linked.groups(len(recesses), pairs)
        recesses = [_together(shape, sight, [recesses[i] for i in group]) for group in groups]
    return list(recesses)


def _chains(shape: PartShape, recess: Recess, sunk: frozenset[int]) -> list[Chain]:
    """The chains of walls of a recess, if one of them is open; none for others."""
    if recess.core or recess.span or recess.behind or len({shape.carriers[f] for f in recess.floors}) != 1:
        return []
    rest = (shape.patches[p] for p in recess.patches if p not in recess.floors)
    if not all(is_wall(p, recess.axis) or hollow(p) for p in rest):
        return []
    chains = chains_of(shape, recess, sunk)
    return chains if not all(chain.closed for chain in chains) else []


def _are_whole(shape: PartShape, recesses: Sequence[Recess], pieces: Sequence[Piece]) -> bool:
    """True when the walls of each make rings without those of another."""
    return all(ring.closed for number, own in pieces for ring in closed(shape, recesses[number], own))


def _loops(
    shape: PartShape, recesses: Sequence[Recess], pieces: Sequence[Piece], sunk: frozenset[int]
) -> list[tuple[int, ...]]:
    """The numbers of what makes two rings as far apart as each piece is wide."""
    found = [
        group for alike in _alike(shape, pieces) for group, rings in _rings(shape, recesses, alike) if len(rings) == 2
    ]
    return [group for group in found if cut_loop(shape, _sum([recesses[i] for i in group]), sunk)]


def _pockets(
    shape: PartShape, recesses: Sequence[Recess], pieces: Sequence[Piece], _: frozenset[int]
) -> list[tuple[int, ...]]:
    """The numbers of what makes a ring, and others within it, with nothing where these are in pieces."""
    axis = recesses[pieces[0][0]].axis
    return [group for group, rings in _rings(shape, recesses, pieces) if all(_is_free(shape, axis, r) for r in rings)]


def _alike(shape: PartShape, pieces: Sequence[Piece]) -> Iterator[list[Piece]]:
    """The pieces that are strips of each width, if there are two or more of it."""
    widths = [(width, piece) for piece in pieces if (width := _width(shape, piece[1])) > 0]
    ordered = sorted(widths, key=lambda s: (s[0], s[1][0]))
    steps = [k + 1 for k, (a, b) in enumerate(pairwise(ordered)) if b[0] - a[0] > SAME_LENGTH]
    for start, end in pairwise([0, *steps, len(ordered)]):
        if end - start > 1:
            yield [piece for _, piece in ordered[start:end]]


def _width(shape: PartShape, chains: Sequence[Chain]) -> float:
    """How far walls are apart that face each other, where that is least (mm); 0 where none do."""
    walls = [shape.patches[w].surface for chain in chains for w in chain.walls]
    return min((gap for a, b in combinations(walls, 2) if (gap := gap_of(a, b)) > 0), default=0.0)


def _rings(
    shape: PartShape, recesses: Sequence[Recess], pieces: Sequence[Piece]
) -> list[tuple[tuple[int, ...], list[Chain]]]:
    """The numbers of pieces, two or more, whose chains of walls make whole rings, with these."""
    axis = recesses[pieces[0][0]].axis
    pieces = [p for p in pieces if dot(recesses[p[0]].axis, axis) > 1 - SQUARE**2]
    rings = closed(shape, recesses[pieces[0][0]], [c for _, own in pieces for c in own])
    owner = {wall: k for k, (_, own) in enumerate(pieces) for chain in own for wall in chain.walls}
    members = [sorted({owner[w] for w in ring.walls}) for ring in rings]
    groups = linked.groups(len(pieces), [pair for group in members for pair in pairwise(group)])
    found = []
    for group in (g for g in groups if len(g) > 1):
        own = [ring for ring, m in zip(rings, members, strict=True) if m[0] in group]
        if all(ring.closed for ring in own):
            found.append((tuple(pieces[k][0] for k in group), own))
    return found


def _is_free(shape: PartShape, axis: Vec3, ring: Chain) -> bool:
    """True when nothing stands over the floor from where walls end to where they go on."""
    return not any(
        crossings(
            shape, add(add(a, axis, OVER), unit(sub(b, a)), OVER), unit(sub(b, a)), 0.0, norm(sub(b, a)) - 2 * OVER
        )
        for a, b in ring.gaps
        if norm(sub(b, a)) > 2 * OVER
    )


def _sum(pieces: Sequence[Recess]) -> Recess:
    patches = tuple(sorted({p for piece in pieces for p in piece.patches}))
    return Recess(patches, pieces[0].axis, tuple(sorted({f for piece in pieces for f in piece.floors})), ())


def _together(shape: PartShape, sight: Sight, pieces: Sequence[Recess]) -> Recess:
    """The pieces as one recess; what begins at the ends of their floors bounds nothing but the gaps."""
    if len(pieces) == 1:
        return pieces[0]
    whole = _sum(pieces)
    rims = [r for f in whole.floors for r in shape.patches[f].rims if r.convexity == "convex"]
    bridged = {r.other for r in rims}.union(*(piece.bridged for piece in pieces)).difference(whole.patches)
    seen = tuple(d for d in sight.distinct(d for p in pieces for d in p.seen) if sight.sees(whole.patches, d))
    return Recess(whole.patches, whole.axis, whole.floors, seen, bridged=tuple(sorted(bridged)))
