"""From where a straight tool sees a feature: exact for plane and cylindrical walls, on triangles elsewhere.

A direction (from the feature to the spindle) is free when no face of the feature turns away from it and no part
of the body stands in the way. What stands in the way meets the line of sight with a face that looks away from
the spindle; so only such triangles are projected along the direction and clipped against the feature's own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

import numpy as np

from schemas.base import Vec3, cross, dot, norm, scale, unit
from schemas.tolerances import MESH, SIGHT_CURVED, SIGHT_WALL
from worker.recognise.covering import areas_covered, beyond_all, walls_covered
from worker.recognise.feet import Feet
from worker.recognise.patches import PartShape
from worker.recognise.projection import Blocks, Index, View, blocks_of

Cell = tuple[int, int, int]
EQUAL, CELL = 3e-5, 1e-3
"""Directions whose coordinates differ by less than EQUAL in all are one; the known ones are kept by cells this wide."""
SIDES = 6
"""A box has so many."""
SAME_AREA = 0.1
"""Sides whose areas differ by less are alike (mm2)."""
STEEP, FEW = 0.1, 0.05
"""What turns away by less than this (sine), on less than this share of a free-form patch, may do so by its chords."""
TURNED = 2 * FEW
"""What turns away on more than this share does for good."""
SLIVER = MESH / 2
"""A triangle less high than this (mm) may look anywhere."""
NONE: Index = np.zeros(0, dtype=np.intp)
MANY = 8
"""More free-form patches are asked together which way they look."""
KEPT = 32
"""So many projections are kept: a knurl has one for each of its grooves."""


@dataclass(eq=False)
class Sight:
    """Lines of sight of one part; remembers what it was asked."""

    shape: PartShape
    views: dict[Vec3, View] = field(default_factory=dict)
    """The projections asked for last."""
    answers: dict[tuple[Vec3, int, float, Feet], bool] = field(default_factory=dict)
    facing: dict[tuple[Vec3, int], bool] = field(default_factory=dict)
    seen: dict[Cell, list[tuple[int, Vec3]]] = field(default_factory=dict)
    names: dict[Vec3, Vec3] = field(default_factory=dict)
    outer: frozenset[int] = frozenset()
    """Planes with the whole part behind them: nothing can stand over those."""
    chamfers: frozenset[int] = frozenset()
    """Those of them that only break an edge: no side of the part."""

    def is_square(self, direction: Vec3) -> bool:
        """True when an outer plane looks in the direction, or straight away from it."""
        normals = (self.shape.patches[p].surface.axis for p in self.outer - self.chamfers)
        return any(abs(dot(n, direction)) > 1 - SIGHT_WALL**2 for n in normals)

    def is_slanted(self, direction: Vec3) -> bool:
        """True when every outer plane that looks in the direction, or away from it, slants off a larger one."""
        return not any(abs(dot(axis, direction)) > 1 - SIGHT_WALL**2 for axis in self._sheer)

    @cached_property
    def _sheer(self) -> frozenset[Vec3]:
        """The ways that outer planes look of which none slants off a larger one."""
        sheer = (p for p in self.outer if not any(self._slants_off(p, o) for o in self.shape.patches[p].convex))
        return frozenset(tidy(self._axis(p)) for p in sheer)

    def _axis(self, patch: int) -> Vec3:
        return self.shape.patches[patch].surface.axis

    def _slants_off(self, patch: int, other: int) -> bool:
        larger = other in self.outer and self.shape.patches[other].area > self.shape.patches[patch].area + SAME_AREA
        return larger and SIGHT_WALL < abs(dot(self._axis(patch), self._axis(other))) < 1 - SIGHT_WALL**2

    @cached_property
    def sides(self) -> tuple[Vec3, ...]:
        """The ways, and their opposites, that most plane area of the part looks."""
        areas: dict[Vec3, float] = {}
        for patch in self.shape.patches:
            if patch.surface.kind == "plane":
                axis = self.known(patch.surface.axis)
                areas[axis] = areas.get(axis, 0.0) + patch.area
        most = sorted(areas, key=lambda d: (-round(areas[d], 1), d))
        least = areas[most[min(SIDES, len(most)) - 1]] if most else 0.0
        most = [d for d in most if areas[d] > least - SAME_AREA]  # all that are as large: the part may lie any way
        return self.distinct([*most, *(scale(d, -1.0) for d in most)])

    def sees(self, patches: tuple[int, ...], direction: Vec3, level: float = -math.inf, feet: Feet = ()) -> bool:
        """True when a straight tool coming from ``direction`` sees all of the patches; of walls what lies over a level.

        ``level``: height along the direction (mm). ``feet``: what of the patches lies above all of
        them counts.
        """
        if len(patches) > MANY:
            self.face_together(patches, direction)
        facing = all(self.faces_it(p, direction) for p in patches)
        return facing and all(self._sees_one(p, direction, level, feet) for p in patches)

    def faces_it(self, patch: int, direction: Vec3) -> bool:
        """True when no spot of the patch turns away from the direction."""
        found = self.shape.patches[patch].surface
        if found.kind == "plane":
            return dot(found.axis, direction) > -SIGHT_WALL
        if found.kind == "cylinder" and norm(cross(found.axis, direction)) < SIGHT_WALL:
            return True
        if (direction, patch) not in self.facing:
            normals = self.shape.normals[self.shape.slices[patch]]
            least = float((normals @ np.array(direction)).min()) if len(normals) else 1.0
            chords = least <= -SIGHT_CURVED and found.kind == "other" and self._by_chords(patch, direction)
            self.facing[direction, patch] = least > -SIGHT_CURVED or chords
        return self.facing[direction, patch]

    def face_together(self, patches: Iterable[int], direction: Vec3) -> None:
        """Ask of all free-form patches among some together which turn away nowhere and which for good; the others are
        asked one by one."""
        new = [p for p in patches if (direction, p) not in self.facing]
        free = [p for p in new if self.shape.patches[p].surface.kind == "other" and len(self.shape.patches[p].corners)]
        if len(free) <= MANY:
            return
        own = [self.shape.slices[p] for p in free]
        leans = np.concatenate([self.shape.normals[s] for s in own]) @ np.array(direction)
        areas = np.concatenate([self.shape.areas[s] for s in own])
        starts = np.cumsum([0, *(s.stop - s.start for s in own[:-1])])
        facing = np.minimum.reduceat(leans, starts) > -SIGHT_CURVED
        away = np.add.reduceat(np.where(leans <= -SIGHT_CURVED, areas, 0.0), starts)
        told = facing | (away > TURNED * np.add.reduceat(areas, starts))
        self.facing.update({(direction, p): bool(facing[i]) for i, p in enumerate(free) if told[i]})

    def _by_chords(self, patch: int, direction: Vec3) -> bool:
        """True when all that turns away of a free-form patch are a few triangles, as chords do where it stands upright,
        and slivers, whose normals say nothing.

        Each hangs over by less than a chord lies off its surface, and they are a small share of it.
        """
        own, way = self.shape.slices[patch], np.array(direction)
        corners, area, lean = self.shape.patches[patch].corners, self.shape.areas[own], self.shape.normals[own] @ way
        away = lean <= -SIGHT_CURVED
        if area[away].sum() >= FEW * area.sum():
            return False
        over = np.ptp(corners[away] @ way, axis=1) * -lean[away]
        longest = np.linalg.norm(corners[away] - corners[away][:, [1, 2, 0]], axis=2).max(axis=1)
        steep = (lean[away] > -STEEP) & (over < MESH)
        return bool((steep | (2 * area[away] < SLIVER * longest)).all())

    def _sees_one(self, patch: int, direction: Vec3, level: float, feet: Feet) -> bool:
        key = (direction, patch, level, feet)
        if key not in self.answers:
            self.answers[key] = self.faces_it(patch, direction) and (
                patch in self.outer or not self._covered(patch, direction, level, feet)
            )
        return self.answers[key]

    def known(self, direction: Vec3) -> Vec3:
        """The direction, or the equal one (1e-5) that was asked for before."""
        if direction not in self.names:
            self.names[direction] = self._named(tidy(direction))
        return self.names[direction]

    def _named(self, wanted: Vec3) -> Vec3:
        cells = [sorted({math.floor((c + slack) / CELL) for slack in (-EQUAL, EQUAL)}) for c in wanted]
        near = [found for x, y, z in product(*cells) for found in self.seen.get((x, y, z), ())]
        equal = [(n, old) for n, old in near if sum(abs(a - b) for a, b in zip(old, wanted, strict=True)) < EQUAL]
        if equal:
            return min(equal)[1]
        own = tuple(math.floor(c / CELL) for c in wanted)
        self.seen.setdefault((own[0], own[1], own[2]), []).append((len(self.names), wanted))
        return wanted

    def distinct(self, directions: Iterable[Vec3]) -> tuple[Vec3, ...]:
        """The different ones among some directions, in order of first use."""
        return tuple(dict.fromkeys(self.known(d) for d in directions))

    @cached_property
    def blocks(self) -> Blocks:
        """The part's triangles in blocks."""
        return blocks_of(self.shape)

    def view(self, direction: Vec3) -> View:
        """The projection of the part along a direction."""
        view = self.views.pop(direction, None) or View(self.shape, self.blocks, direction)
        if len(self.views) >= KEPT:
            del self.views[next(iter(self.views))]
        self.views[direction] = view
        return view

    def _covered(self, patch: int, direction: Vec3, level: float = -math.inf, feet: Feet = ()) -> bool:
        part = self.shape.slices[patch]
        if part.start == part.stop:
            return False
        view = self.view(direction)
        if view.is_clear(patch):
            return False
        own = np.arange(part.start, part.stop)
        upright = np.abs(view.facing(part)) < SIGHT_CURVED
        areas, walls = own[~upright], own[upright]
        if view.is_crowded(patch):
            walls = walls[~beyond_all(view, walls)]
            if self._covered_by(view, (areas, walls), view.over(patch, view.beside(patch)), level, feet):
                return True
        blocks = view.over(patch) if len(areas) or len(walls) else NONE
        return self._covered_by(view, (areas, walls), blocks, level, feet)

    def _covered_by(self, view: View, own: tuple[Index, Index], blocks: Index, level: float, feet: Feet) -> bool:
        """Whether anything in some blocks stands over triangles seen as areas or over those seen as lines."""
        areas, walls = own
        if not len(blocks):
            return False
        return bool(
            (len(areas) and areas_covered(view, areas, blocks, feet))
            or (len(walls) and walls_covered(view, walls, blocks, level, feet))
        )


def tidy(direction: Vec3) -> Vec3:
    """A unit direction rounded so that equal ones compare equal (1e-9), exact along the axes."""
    u = unit(direction)
    rounded = tuple(round(c, 9) + 0.0 for c in u)
    snapped = tuple(float(round(c)) + 0.0 if abs(c - round(c)) < 1e-7 else c for c in rounded)
    return (snapped[0], snapped[1], snapped[2])


def opposite(direction: Vec3) -> Vec3:
    """The other way."""
    return tidy(scale(direction, -1.0))
