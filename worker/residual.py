"""What stands on the part: the metal between a stock and the finished part, lump by lump, by the features it covers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from schemas.base import Box
from schemas.tolerances import ASIDE, BALANCE, FACETS, LAYER, VOLUME_NOTHING
from worker.kernel import boolean, measure
from worker.kernel.errors import KernelError
from worker.kernel.faceted import solid_of
from worker.kernel.meshes import Mesh, Piece, covered, mesh_of, standing_on
from worker.kernel.shape import Body, compound, face_index, faces, solids
from worker.part import RECESSES, Part

MANY = 200
"""Faces of stock and part from which each further way takes as long as meshes do, and a part moved a hair hours: each
of its faces crosses the stock's own all over."""

TOLD = 1e-3
"""Share of a mesh's volume by which a solid may differ that only tells where it lies: nothing is cut from it again."""


@dataclass(frozen=True)
class Lump:
    """One connected piece of metal that does not belong to the part.

    ``faces`` are the part's faces that it stands on, ``features`` the features that own them. ``thickness`` is
    its volume over the area that it covers, mm.
    """

    body: Body
    volume: float
    box: Box
    faces: tuple[int, ...]
    features: tuple[str, ...]
    thickness: float


def standing(part: Part, stock: Body, balance: float = BALANCE) -> tuple[Lump, ...]:
    """The lumps of ``stock`` outside the part, largest first; films thinner than the layer tolerance are left out.

    ``balance`` is the share of the stock that may go astray. Raises KernelError when the boolean fails, of bodies with
    MANY faces when the plain way does.
    """
    few = len(faces(stock)) + len(faces(part.body)) < MANY
    # merged, faces that are covered and faces that are bare would be one
    traced = boolean.cut_traced(stock, [part.body], merge=False, aside=False, once=not few, balance=balance)
    return _lumps(part, traced)


def standing_aside(part: Part, stock: Body) -> tuple[Lump, ...]:
    """Like :func:`standing`, as a last resort with the part moved a hair: not of bodies with MANY faces."""
    if len(faces(stock)) + len(faces(part.body)) >= MANY:
        raise KernelError("cut", "a part moved a hair takes hours with so many faces")
    return _lumps(part, boolean.cut_traced(stock, [part.body], merge=False))


def _lumps(part: Part, traced: boolean.Traced) -> tuple[Lump, ...]:
    numbers = face_index(traced.body)
    lumps: list[Lump] = []
    for solid in solids(traced.body):
        origins = [traced.origin[numbers.FindIndex(face) - 1] for face in faces(solid)]
        lump = _lump(part, solid, [o[1] if o is not None and o[0] == 1 else None for o in origins])
        lumps += [lump] if lump.thickness > LAYER else _in_a_film(part, lump)
    return _ordered([lump for lump in lumps if lump.volume > VOLUME_NOTHING])


def _in_a_film(part: Part, film: Lump) -> tuple[Lump, ...]:
    """What of a lump is thicker than the layer tolerance, though its mean is not: a film joins to one lump all that
    stands on the part. None of films as cuts leave them."""
    if film.volume <= VOLUME_NOTHING or film.thickness <= ASIDE:
        return ()
    return standing_by_meshes(part, film.body)


def _ordered(lumps: Sequence[Lump]) -> tuple[Lump, ...]:
    return tuple(sorted(lumps, key=lambda lump: (-round(lump.volume, 6), lump.box.min, lump.box.max)))


def _lump(part: Part, solid: Body, origins: Sequence[int | None]) -> Lump:
    covered = sorted({index for index in origins if index is not None})
    owners = owners_of(part, covered)
    volume = measure.volume(solid)
    area = sum(measure.area(face) for face, index in zip(faces(solid), origins, strict=True) if index is not None)
    return Lump(
        body=solid,
        volume=volume,
        box=measure.bounding_box(solid),
        faces=tuple(covered),
        features=tuple(f.id for f in part.features if f.id in owners),
        thickness=volume / area if area > 0 else float("inf"),
    )


def owners_of(part: Part, covered: Sequence[int]) -> set[str]:
    """The features of some faces; of recesses that share a floor those alone whose own walls are among them, where any
    are: what stands in one of two crossing slots does not stand in the other."""
    owned = [part.feature_of_face(index) for index in covered]
    alone = {id for index, ids in zip(covered, owned, strict=True) for id in ids if not _shared(part, id, index)}
    found = {id for ids in owned for id in ids}
    for index, ids in zip(covered, owned, strict=True):
        mates = {id for id in ids if _shared(part, id, index)}
        if mates & alone:
            found -= mates - alone
    return found


def _shared(part: Part, id: str, index: int) -> bool:
    return part.feature(id).class_ in RECESSES and part.shared(part.feature(id), index)


def standing_by_meshes(part: Part, stock: Body) -> tuple[Lump, ...]:
    """Like :func:`standing`, by closed meshes: for metal that is faceted, or where the boolean fails.

    Volumes are sure to the layer tolerance over the area that a lump covers. Raises KernelError.
    """
    model = mesh_of(part.body, FACETS)
    found = [_meshed_lump(part, model, piece) for piece in standing_on(model, mesh_of(stock, FACETS), LAYER)]
    return _ordered([lump for lump in found if lump is not None])


def _meshed_lump(part: Part, model: Mesh, piece: Piece) -> Lump | None:
    under = covered(piece, model)
    area = sum(under.values())
    volume = piece.volume + LAYER * area
    if volume <= VOLUME_NOTHING:
        return None
    owners = owners_of(part, tuple(under))
    features = tuple(f.id for f in part.features if f.id in owners)
    body = solid_of(piece, TOLD)
    thickness = volume / area if area > 0 else float("inf")
    return Lump(body, volume, measure.bounding_box(body), tuple(under), features, thickness)


def lacking(part: Part, stock: Body) -> Body:
    """The metal that the part needs and the stock lacks, by closed meshes, without films. Raises KernelError."""
    found = standing_on(mesh_of(stock, FACETS), mesh_of(part.body, FACETS), LAYER)
    return compound(solid_of(piece, TOLD) for piece in found if piece.volume > VOLUME_NOTHING)


def covered_features(lumps: Sequence[Lump]) -> frozenset[str]:
    """Ids of all features that some lump stands on."""
    return frozenset(id for lump in lumps for id in lump.features)


def missing(part: Part, stock: Body) -> Body:
    """The metal that the part needs and the stock lacks."""
    return boolean.cut(part.body, [stock])
