"""What every family of operations looks at: part and workholding as the spindle sees them, the box of the metal."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from schemas.base import Box, Frame, dot
from schemas.feature import Feature
from schemas.tolerances import ANGLE, COINCIDENT, LENGTH
from schemas.tool import Tool
from worker.kernel import measure
from worker.kernel.planar import NOWHERE, Bounds, Region, boxes_meet, near, overlap, rectangle, union
from worker.kernel.shadow import Skyline
from worker.kernel.shape import Body, is_empty
from worker.part import Part
from worker.stage.model import Floats, Holding, Plunge, Section, Spared, Stand, Way, no_rides

CLEARANCE = 1.0
"""Swept bodies end this far above the metal, so that no face lies in the stock's own (mm)."""

ALONG = math.cos(math.radians(ANGLE))
"""Cosine from which two directions are one."""
LOCAL = 0.25
"""Shadows are joined of the faces beside a footprint where these are no larger a share of all: those of the whole part
are shared between steps, but take seconds where it has many hundred faces."""


@dataclass(frozen=True)
class Scene:
    """One setup before it cuts. ``metal`` is the box of the stock and the part in the setup's frame."""

    part: Part
    frame: Frame
    sky: Skyline
    obstacles: Skyline | None
    metal: Box

    @property
    def top(self) -> float:
        """Height at which swept bodies end."""
        return self.metal.max[2] + CLEARANCE

    @property
    def plan(self) -> Bounds:
        """The metal's rectangle in x, y."""
        return (self.metal.min[0], self.metal.min[1], self.metal.max[0], self.metal.max[1])

    def domain(self, tool: Tool) -> Region:
        """All that a tool may run over: so much more than the metal that corners it rounds lie outside ``reach``."""
        return self._around(2.0 * tool.diameter + 10.0 * CLEARANCE)

    def reach(self, tool: Tool) -> Region:
        """The metal's rectangle and a little more: what lies past it is cut off from swept regions."""
        return self._around(2.0 * CLEARANCE + tool.corner_radius)

    def _around(self, margin: float) -> Region:
        x0, y0, x1, y1 = self.plan
        return rectangle(x0 - margin, y0 - margin, x1 + margin, y1 + margin)

    def shadow(self, z: float, within: Bounds, passed: frozenset[int]) -> Region:
        """The part's shadow above ``z`` as far as it matters within a box, without the faces in ``passed``."""
        beside = self.sky.upward(z, within)
        present = [s for s in beside if s.index not in passed]
        if len(present) == len(beside) > LOCAL * len(self.sky.upward(z)):
            return self.sky.above(z)
        return union(self.sky.part_above(s, z) for s in present)

    def held(self, z: float) -> Region:
        """The workholding's shadow above ``z``."""
        return self.obstacles.above(z) if self.obstacles else NOWHERE

    def heights(self, feature: Feature) -> tuple[float, float]:
        """Lowest and highest z of a feature's faces."""
        shown = [self.sky.shown[i] for i in feature.faces]
        return min(s.low for s in shown), max(s.high for s in shown)

    def foot(self, feature: Feature) -> float:
        """Lowest z of a feature; where it is open below, that of the face that it comes out of, past the transitions
        that break its edge there."""
        return min((self.heights(feature)[0], *self.open_ends(feature)))

    def foot_of_side(self, side: Feature) -> float:
        """The same of one side of the part: where it ends with an outline that it is part of, as low as that."""
        low = self.heights(side)[0]
        outlines = [f for f in self.part.features if f.class_ == "profile_feature" and set(side.faces) <= set(f.faces)]
        return min((low, *(self.foot(f) for f in outlines if abs(self.heights(f)[0] - low) <= LENGTH)))

    def open_ends(self, feature: Feature) -> tuple[float, ...]:
        """Heights of the ends that a feature along the setup's axis opens at, as recognised."""
        place = feature.placement
        along = dot(place.z, self.frame.z)
        face = self.frame.to_local(place.location)[2]
        if abs(along) < ALONG:
            return ()
        if feature.bottom == "through" or feature.class_ == "profile_feature":
            return face, self.frame.to_local(place.to_world((0.0, 0.0, -(feature.depth or 0.0))))[2]
        return (face,) if along > 0 else ()

    def part_stands(self, low: float, high: float, plan: Region) -> bool:
        """True when metal of the part may end upwards between two heights within a plan.

        A face that goes on above the upper height counts as it does: a bore's one round face is the near wall's
        underside and the far wall's top.
        """
        present = [s for s in self.sky.upward(low, plan.bounds) if s.low <= high + COINCIDENT]
        return any(overlap(self.sky.part_above(s, low), plan) for s in present)

    def part_above(self, z: float, plan: Region) -> bool:
        """True when metal of the part stands above a height within a plan."""
        return any(overlap(self.sky.part_above(s, z), plan) for s in self.sky.upward(z, plan.bounds))

    def meets_holding(self, low: float, plan: Region) -> bool:
        """True when the workholding reaches above a height within a plan."""
        return bool(plan) and overlap(near(self.held(low), plan, 0.0), plan)


def scene_of(part: Part, frame: Frame, holding: Holding, as_is: Body) -> Scene:
    """Part and workholding as the spindle sees them, with the box of stock and part."""
    boxes = [measure.bounding_box(body, frame) for body in (as_is, part.body)]
    low = tuple(min(b.min[i] for b in boxes) for i in range(3))
    high = tuple(max(b.max[i] for b in boxes) for i in range(3))
    metal = Box(min=(low[0], low[1], low[2]), max=(high[0], high[1], high[2]))
    obstacles = None if is_empty(holding.body) else Skyline(holding.body, frame)
    return Scene(part, frame, Skyline(part.body, frame), obstacles, metal)


@dataclass(frozen=True)
class Sweep:
    """What a tool passes through for one feature. Heights in the setup's frame; bodies in the part's frame.

    ``plan`` covers the bodies, seen along the spindle. ``gouging`` are the bodies that may lie in the part;
    ``pardoned`` is where they may (a hole's conical bottom). ``fault`` is why there is no sweep, where none could
    be made. ``stands``, ``kept_off``, ``tips``, ``ways``, ``rides`` and ``followed`` are as in ``Cut``. ``column``:
    from this height up the bodies hold all that lies over ``plan``, and none of them touches another; None where that
    is not known.
    """

    bodies: tuple[Body, ...] = ()
    plan: Region = NOWHERE
    gouging: tuple[Body, ...] = ()
    pardoned: tuple[Body, ...] = ()
    tip_z: float = 0.0
    full_diameter_z: float = 0.0
    nominal_z: float = 0.0
    plunges: tuple[Plunge, ...] = ()
    spared: tuple[Spared, ...] = ()
    notes: tuple[str, ...] = field(default=())
    fault: str = ""
    stands: tuple[Stand, ...] = ()
    kept_off: tuple[Section, ...] = ()
    tips: tuple[tuple[str, float], ...] = ()
    ways: tuple[Way, ...] = ()
    column: float | None = None
    rides: Floats = field(default_factory=no_rides, compare=False)
    followed: tuple[str, ...] = ()


def nothing(z: float, *notes: str) -> Sweep:
    """No metal for this feature; the reason, if there is one to tell."""
    return Sweep(tip_z=z, full_diameter_z=z, nominal_z=z, notes=notes)


def merge_sweeps(sweeps: list[Sweep]) -> Sweep:
    """Several sweeps of one step as one; the heights are the lowest ones."""
    if len(sweeps) == 1:
        return sweeps[0]
    return replace(
        sweeps[0],
        column=_common_column(sweeps),
        bodies=tuple(b for s in sweeps for b in s.bodies),
        plan=union(s.plan for s in sweeps),
        gouging=tuple(b for s in sweeps for b in s.gouging),
        pardoned=tuple(b for s in sweeps for b in s.pardoned),
        tip_z=min(s.tip_z for s in sweeps),
        full_diameter_z=min(s.full_diameter_z for s in sweeps),
        nominal_z=min(s.nominal_z for s in sweeps),
        plunges=tuple(p for s in sweeps for p in s.plunges),
        spared=tuple(one for s in sweeps for one in s.spared),
        notes=tuple(dict.fromkeys(n for s in sweeps for n in s.notes)),
        stands=tuple(one for s in sweeps for one in s.stands),
        rides=np.concatenate([s.rides for s in sweeps]),
        kept_off=tuple(dict.fromkeys(one for s in sweeps for one in s.kept_off)),
        tips=tuple(one for s in sweeps for one in s.tips),
        ways=tuple(one for s in sweeps for one in s.ways),
        followed=tuple(one for s in sweeps for one in s.followed),
    )


def _common_column(sweeps: list[Sweep]) -> float | None:
    heights = [s.column for s in sweeps if s.column is not None]
    if len(heights) < len(sweeps) or any(_may_touch(a, b) for a, b in combinations(sweeps, 2)):
        return None
    return max(heights)


def _may_touch(one: Sweep, other: Sweep) -> bool:
    """True where the two may touch, by the boxes of their plans."""
    return boxes_meet(one.plan.bounds, other.plan.bounds, COINCIDENT)
