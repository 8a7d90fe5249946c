"""What the field knows of one setup: the lattice as the spindle sees it, and triangles of part and workholding."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from schemas.feature import Feature
from worker.field.arcs import Chords, broken, chords_of, followed, left_level
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Mask
from worker.field.outlines import Facets
from worker.field.plane import Shadow
from worker.field.tight import Box2
from worker.field.view import View

UPRIGHT = 1e-3
"""A triangle whose unit normal has less than this along the axis stands upright."""
UNEVEN = 5 * UPRIGHT
"""A face whose triangles have less than this on the average, either way, may still stand upright."""
NO_AREA = 1e-10
"""Twice the area (mm2) below which a triangle has no direction."""
Faces = frozenset[int]
NO_FACES: Faces = frozenset()


@dataclass(frozen=True, eq=False)
class Scene:
    """Triangles (n, 3, 3) in the setup's frame; ``owner`` is the part's face of each; ``room`` the metal's rectangle.

    ``top`` is a height above all metal.
    """

    view: View
    lattice: Lattice
    part: Floats
    owner: NDArray[np.int32]
    held: Floats
    room: Box2
    top: float

    @cached_property
    def looks(self) -> Floats:
        """z of each part triangle's unit normal; 0 on faces that stand upright on the whole.

        A narrow triangle with its corners on a round wall may lean a little: its face does not. Where the wall ends on
        a free-form face such triangles lean a little more, some up and some down.
        """
        found, sizes = _looks(self.part), _sizes(self.part)
        area = np.maximum(np.bincount(self.owner, sizes), NO_AREA)
        leans = np.nan_to_num(found) * sizes
        most, mean = (np.bincount(self.owner, some) / area for some in (np.abs(leans), leans))
        upright = (most <= UPRIGHT) | ((most <= UNEVEN) & (np.abs(mean) <= UPRIGHT))
        return np.where(upright[self.owner] & np.isfinite(found), 0.0, found)

    @cached_property
    def chords(self) -> Chords:
        """The chords of the part's round upright walls, and of level circles in which others end."""
        upright = np.abs(self.looks) <= UPRIGHT
        leaning = (self.looks > UPRIGHT) & (self.looks < 1 - UPRIGHT)
        return chords_of(self.part[upright], self.owner[upright], self.part[leaning], self.owner[leaning])

    @cached_property
    def _seen(self) -> Mask:
        return self.looks > UPRIGHT

    @cached_property
    def _up(self) -> tuple[Floats, NDArray[np.int32]]:
        """The part's triangles that look towards the spindle, slanting ones along the arcs of round upright walls, and
        the face of each."""
        seen, owner = self.part[self._seen], self.owner[self._seen]
        level = left_level(seen, self.chords)
        slanting, whose = followed(seen[~level], owner[~level], self.chords)
        return np.concatenate((seen[level], slanting)), np.concatenate((owner[level], whose))

    @cached_property
    def _facets(self) -> dict[Faces, Facets]:
        return {}

    @cached_property
    def _shadows(self) -> dict[tuple[float, Faces], Shadow]:
        return {}

    def shadow(self, above: float, without: Faces = NO_FACES) -> Shadow:
        """What of the part, but for some faces, lies above a height, seen along z; each height once."""
        if (above, without) not in self._shadows:
            facets = self._facets_without(without)
            self._shadows[above, without] = Shadow(facets.triangles, above, facets)
        return self._shadows[above, without]

    def _facets_without(self, without: Faces) -> Facets:
        if without not in self._facets:
            triangles, owner = self._up
            kept = triangles[~np.isin(owner, list(without))] if without else triangles
            self._facets[without] = Facets(kept, partial(broken, chords=self.chords))
        return self._facets[without]

    def up_of(self, faces: Iterable[int]) -> Floats:
        """The triangles of some faces that look towards the spindle, all along the arcs."""
        mine = self._seen & np.isin(self.owner, list(faces))
        return followed(self.part[mine], self.owner[mine], self.chords)[0]

    @cached_property
    def held_up(self) -> Floats:
        """Those of the workholding."""
        return self.held[_looks(self.held) > UPRIGHT] if len(self.held) else self.held

    @property
    def scan_lines(self) -> tuple[Floats, Floats]:
        """y of the scan lines in x, and x of those in y: the lattice's own."""
        return self._ys, self._xs

    @cached_property
    def _xs(self) -> Floats:
        return self.view.middles(self.lattice, 0)

    @cached_property
    def _ys(self) -> Floats:
        return self.view.middles(self.lattice, 1)

    def of(self, feature: Feature) -> Mask:
        """Which of the part's triangles are the feature's."""
        return np.isin(self.owner, feature.faces)

    @cached_property
    def steps_up(self) -> tuple[tuple[float, float, Box2], ...]:
        """Lowest and highest point and rectangle of each face that looks up, at least in part."""
        seen = self.looks > UPRIGHT
        found = []
        for face in np.unique(self.owner[seen]):
            points = self.part[seen & (self.owner == face)].reshape(-1, 3)
            (x0, y0, z0), (x1, y1, z1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
            found.append((z0, z1, (x0, y0, x1, y1)))
        return tuple(found)


def _across(triangles: Floats) -> Floats:
    return np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])


def _sizes(triangles: Floats) -> Floats:
    """Twice the area of each triangle."""
    return np.asarray(np.linalg.norm(_across(triangles), axis=1), dtype=np.float64)


def _looks(triangles: Floats) -> Floats:
    normal, size = _across(triangles), _sizes(triangles)
    unknown = np.full(len(normal), np.nan)  # neither up nor upright: the tip of a cone has triangles without area
    return np.asarray(np.divide(normal[:, 2], size, out=unknown, where=size > NO_AREA), dtype=np.float64)
