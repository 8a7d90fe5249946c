"""What the field knows of one setup: the lattice as the spindle sees it, and triangles of part and workholding."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from schemas.feature import Feature
from worker.field.arcs import NO_CHORD, Chords, chords_of, circles_through, followed, left_level
from worker.field.lattice import Lattice
from worker.field.lines import Floats, Mask
from worker.field.outlines import Facets
from worker.field.plane import Known, Region, Shadow
from worker.field.tight import Box2
from worker.field.triangles import CHORD
from worker.field.view import View

UPRIGHT = 1e-3
"""A triangle whose unit normal has less than this along the axis stands upright."""
UNEVEN = 5 * UPRIGHT
"""A face whose triangles have less than this on the average, either way, may still stand upright."""
LOW = 0.1
"""The same of faces whose corners lie on one circle."""
TOUCHING = 0.02
"""Triangles of a bent face that the upright only touches (as it may a cone on its side) lean so far over it."""
NO_AREA = 1e-10
"""Twice the area (mm2) below which a triangle has no direction."""
Faces = frozenset[int]
NO_FACES: Faces = frozenset()
MOST_POINTS = 4_000_000
"""Points of borders (16 bytes each) that are kept of levels."""


@dataclass(frozen=True, eq=False)
class Scene:
    """Triangles (n, 3, 3) in the setup's frame; ``owner`` is the part's face of each; ``room`` the metal's rectangle.

    ``top`` is a height above all metal, ``deep`` one below which hardly anything is asked for.
    """

    view: View
    lattice: Lattice
    part: Floats
    owner: NDArray[np.int32]
    held: Floats
    room: Box2
    top: float
    deep: float = -np.inf

    @cached_property
    def looks(self) -> Floats:
        """z of each part triangle's unit normal; 0 on faces that stand upright on the whole.

        A narrow triangle with its corners on a round wall may lean a little: its face does not. Where the wall ends on
        a free-form face such triangles lean a little more, some up and some down; where a low one ends on a slope, more
        still: but seen from above all their corners lie on one circle.
        """
        found, sizes = _looks_of(self.part)
        area = np.maximum(np.bincount(self.owner, sizes), NO_AREA)
        leans = np.nan_to_num(found) * sizes
        most, mean = (np.bincount(self.owner, some) / area for some in (np.abs(leans), leans))
        upright = (most <= UPRIGHT) | ((most <= UNEVEN) & (np.abs(mean) <= UPRIGHT))
        upright |= self._on_one_circle((most <= LOW) & (np.abs(mean) <= most / 2) & ~upright)
        return np.where(upright[self.owner] & np.isfinite(found), 0.0, found)

    @cached_property
    def slivers(self) -> Mask:
        """Which of the part's triangles are no higher than a chord's deviation: their corners may all lie on one border
        of their face, and they look where that bends to, not where the face does."""
        sides = np.linalg.norm(self.part - np.roll(self.part, 1, axis=1), axis=2)
        return np.asarray(_looks_of(self.part)[1] <= CHORD * sides.max(axis=1))

    def _on_one_circle(self, asked: Mask) -> Mask:
        """Those of the faces asked for whose corners lie on one circle, seen from above."""
        mine = np.flatnonzero(asked[self.owner])
        found = np.zeros(len(asked), bool)
        if len(mine):
            faces, group = np.unique(self.owner[mine], return_inverse=True)
            points = self.part[mine][:, :, :2].reshape(-1, 2)
            found[faces] = np.isfinite(circles_through(points, np.repeat(group, 3))[:, 2])
        return found

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
    def _tops(self) -> Floats:
        """The highest corner of each of the part's triangles."""
        return np.asarray(self.part[:, :, 2].max(axis=1))

    def _up(self, base: float, without: Faces) -> Facets:
        """The part's triangles, but for some faces', that look towards the spindle and reach above a height, slanting
        ones along the arcs of round upright walls."""
        mine = self._seen & (self._tops > base) & ~self.of_faces(without)
        seen, chords = self.part[mine], self.chords
        on = chords.on(seen)
        level = left_level(seen, on)
        slanting, _ = followed(seen[~level], self.owner[mine][~level], on[~level], chords.circles)
        none = np.full((len(slanting), 3), NO_CHORD)
        return Facets(np.concatenate((seen[level], slanting)), np.concatenate((on[level], none)), chords.circles)

    @cached_property
    def _facets(self) -> dict[tuple[float, Faces], Facets]:
        return {}

    @cached_property
    def _shadows(self) -> dict[tuple[float, Faces], Shadow]:
        return {}

    @cached_property
    def opened(self) -> dict[Hashable, tuple[Region, Known]]:
        """What cutters cover of levels that were asked for, and what scan lines see of it; filled by who asks."""
        return {}

    @cached_property
    def _points(self) -> list[int]:
        return []

    def has_room_for(self, points: int) -> bool:
        """Whether a level told by so many points is to be kept beside those that are."""
        if sum(self._points) + points > MOST_POINTS:
            return False
        self._points.append(points)
        return True

    def shadow(self, above: float, without: Faces = NO_FACES) -> Shadow:
        """What of the part, but for some faces, lies above a height, seen along z; each height once."""
        if (above, without) not in self._shadows:
            facets = self._facets_above(above, without)
            self._shadows[above, without] = Shadow(facets.triangles, above, facets)
        return self._shadows[above, without]

    def _facets_above(self, height: float, without: Faces) -> Facets:
        """Those that reach above a height at least; of a setup that works near the top that is few of them."""
        if not (self._seen & (self._tops > height)).any():
            return Facets(self.part[:0])
        base = self.deep if height >= self.deep else -np.inf
        if (base, without) not in self._facets:
            self._facets[base, without] = self._up(base, without)
        return self._facets[base, without]

    def up_of(self, faces: Iterable[int]) -> Floats:
        """The triangles of some faces that look towards the spindle, all along the arcs."""
        mine = self._seen & self.of_faces(faces)
        on = self.chords.on(self.part[mine])
        return followed(self.part[mine], self.owner[mine], on, self.chords.circles)[0]

    @cached_property
    def held_up(self) -> Floats:
        """Those of the workholding."""
        return self.held[_looks_of(self.held)[0] > UPRIGHT] if len(self.held) else self.held

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
        return self.of_faces(feature.faces)

    def of_faces(self, faces: Iterable[int]) -> Mask:
        """Which of the part's triangles are some faces'."""
        mine = np.zeros(self._faces, bool)
        mine[[face for face in faces if face < self._faces]] = True
        return mine[self.owner]

    @cached_property
    def _faces(self) -> int:
        return int(self.owner.max(initial=-1)) + 1

    @cached_property
    def steps_up(self) -> tuple[tuple[float, float, Box2, int], ...]:
        """Lowest and highest point, rectangle and number of each face that looks up, at least in part: of all of it, as
        the mouth of a lying bore in a wall that leans ends with its upper half."""
        if not self._seen.any():
            return ()
        seen = np.flatnonzero(self.of_faces(self._looking_up()))
        seen = seen[np.argsort(self.owner[seen], kind="stable")]
        begins = np.flatnonzero(np.diff(self.owner[seen], prepend=-1))
        low = np.minimum.reduceat(self.part[seen].min(axis=1), begins).tolist()
        high = np.maximum.reduceat(self.part[seen].max(axis=1), begins).tolist()
        faces = self.owner[seen[begins]].tolist()
        return tuple((a[2], b[2], (a[0], a[1], b[0], b[1]), face) for a, b, face in zip(low, high, faces, strict=True))

    def _looking_up(self) -> list[int]:
        """Numbers of the faces that look up by more than the chords of one that only touches the upright may."""
        looks = np.nan_to_num(self.looks)
        most, least = np.full(self._faces, -1.0), np.full(self._faces, 1.0)
        np.maximum.at(most, self.owner, looks)
        np.minimum.at(least, self.owner, looks)
        return np.flatnonzero(most > np.where(most - least > UPRIGHT, TOUCHING, UPRIGHT)).tolist()


def _looks_of(triangles: Floats) -> tuple[Floats, Floats]:
    """z of each triangle's unit normal, and twice its area."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(normal, axis=1)
    unknown = np.full(len(normal), np.nan)  # neither up nor upright: the tip of a cone has triangles without area
    return np.divide(normal[:, 2], size, out=unknown, where=size > NO_AREA), size
