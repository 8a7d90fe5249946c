"""Slots that run in a circle, with straight slots of their own depth that cross them or run into them."""

from __future__ import annotations

import math
from dataclasses import replace

from schemas.tolerances import LIMIT
from worker.recognise.access import Sight
from worker.recognise.bands import Band, band_on_floor, bands_of, with_fillets
from worker.recognise.curved import LONG, Ring, rings_of
from worker.recognise.patches import PartShape
from worker.recognise.recesses import Recess, hollow, is_wall
from worker.recognise.turns import widest_gap


def parted_from_kidneys(shape: PartShape, sight: Sight, recess: Recess) -> list[Recess]:
    """The kidney slots of a recess with floors on one plane, and what crosses them, each with all floor; none where no
    wall is left beside them, or some of those that are belong to no slot."""
    if len({shape.carriers[f] for f in recess.floors}) != 1 or recess.shared or recess.core:
        return []
    walls = [p for p in recess.patches if is_wall(shape.patches[p], recess.axis)]
    fillets = [p for p in recess.patches if p not in walls and p not in recess.floors]
    kidneys = [own for ring in rings_of(shape, walls) if (own := _walls_of(shape, ring, walls))]
    rest = tuple(w for w in walls if all(w not in own for own in kidneys))
    if not kidneys or len(kidneys) + len(rest) < 2 or not all(hollow(shape.patches[f]) for f in fillets):
        return []
    crossing = bands_of(shape, recess, rest, least=1, ending=True)
    if {w for band in crossing for w in band.walls} != set(rest):
        return []
    bent = (_on_floor(shape, recess, with_fillets(shape, Band(own, ()), fillets)) for own in kidneys)
    straight = (band_on_floor(shape, sight, recess, with_fillets(shape, band, fillets)) for band in crossing)
    return [*bent, *straight]


def _walls_of(shape: PartShape, ring: Ring, walls: list[int]) -> tuple[int, ...]:
    """The walls about a ring's axis, and what rounds its ends between them; none where one runs on smoothly into
    another: one path of one cutter makes that. With both ends open it is twice as long as wide."""
    sides = {shape.carriers[p.index] for p in (ring.core, ring.outer)}
    own = [w for w in walls if shape.carriers[w] in sides]
    ends = [w for w in walls if w not in own and hollow(shape.patches[w]) and ring.rounds(shape.patches[w].surface)]
    smooth = {o for w in own for o in shape.patches[w].smooth} & set(walls)
    turn = math.tau - widest_gap([shape.patches[w] for w in own], ring.origin, ring.axis)
    long = ends or ring.middle * turn >= LONG * ring.width - LIMIT
    return tuple(sorted({*own, *ends})) if long and smooth <= {*own, *ends} else ()


def _on_floor(shape: PartShape, recess: Recess, band: Band) -> Recess:
    """A kidney slot alone; what else bounds the floor opens no side of it."""
    patches = tuple(sorted({*band.walls, *recess.floors}))
    beyond = {r.other for f in recess.floors for r in shape.patches[f].rims} - set(patches)
    bridged = tuple(sorted(beyond | set(recess.bridged)))
    return replace(recess, patches=patches, seen=(recess.axis,), core=band.walls, bridged=bridged, shared=True)
