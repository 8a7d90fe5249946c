"""One setup as it was cut: frozen values that checks, reach and report read and nobody changes.

Every body lies in the part's frame; every z is a height in the setup's frame; lengths mm, volumes mm3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, Vec3
from schemas.feature import Feature
from schemas.plan import Setup, Workingstep
from schemas.tool import Tool
from worker.kernel import boolean
from worker.kernel.faceted import cut_by_meshes
from worker.kernel.planar import NOWHERE, Bounds, Region, intersect, rectangle, subtract
from worker.kernel.shape import EMPTY, Body, compound, is_empty
from worker.kernel.sweep import prism
from worker.stage.standing import EXACT, Failure, Standing

Floats = NDArray[np.float64]

Role = Literal["jaw_fixed", "jaw_moving", "parallel", "bed", "plate", "clamp", "locator", "jack", "bolt", "body"]
SUPPORTING: frozenset[str] = frozenset({"parallel", "bed", "plate", "jack", "locator", "body"})
"""Roles that the stock rests on or against."""


@dataclass(frozen=True)
class ResolvedStep:
    """One enabled workingstep with its tool and the features that its selectors name, in the plan's order.

    ``index`` is its position in the setup's ``workingsteps`` (for JSON pointers; disabled steps count).
    """

    index: int
    step: Workingstep
    tool: Tool
    features: tuple[Feature, ...]


@dataclass(frozen=True)
class Plunge:
    """One place where a tool works on an axis (drills, reamers, taps, countersinks, borers).

    ``centre`` lies on the hole's axis at the height ``entry_z`` (part's frame). ``tip_z`` is the lowest point of
    the tool, ``full_diameter_z`` the lowest height at which it has its full diameter; setup's frame.
    """

    feature: str
    centre: Vec3
    diameter: float
    entry_z: float
    tip_z: float
    full_diameter_z: float


@dataclass(frozen=True)
class Spared:
    """A level of a step's region (heights in the setup's frame, regions in its x, y): what the part and the
    workholding leave free, what the cutter covers of it, and the rectangle of the metal."""

    low: float
    high: float
    free: Region
    covered: Region
    plan: Bounds

    def body(self, frame: Frame) -> Body:
        """What is free but not covered, over the metal."""
        left = intersect(subtract(self.free, [self.covered]), rectangle(*self.plan))
        return prism(left, frame, self.low, self.high)


Section = Literal["head", "neck", "shank"]
"""What an undercutting cutter consists of below its holder."""


@dataclass(frozen=True)
class Stand:
    """Where an undercutting cutter may stand: axis points (setup's x, y) that are free for all tips from ``low`` to
    ``high`` (equal: for that one alone)."""

    low: float
    high: float
    free: Region


@dataclass(frozen=True)
class Way:
    """A level way of a pointed cutter's axis along a V-groove: height of its tip, from and to (setup's frame); where it
    turns round a ``centre`` by so much (rad, counter-clockwise)."""

    tip: float
    start: tuple[float, float]
    end: tuple[float, float]
    centre: tuple[float, float] = (0.0, 0.0)
    turn: float = 0.0

    @property
    def long(self) -> float:
        """Its length."""
        return self.turn * math.dist(self.start, self.centre) if self.turn else math.dist(self.start, self.end)

    def place(self, share: float) -> tuple[float, float]:
        """Where the axis is after a share of it."""
        if not self.turn:
            (ax, ay), (bx, by) = self.start, self.end
            return (ax + share * (bx - ax), ay + share * (by - ay))
        x, y = (a - c for a, c in zip(self.start, self.centre, strict=True))
        cosine, sine = math.cos(share * self.turn), math.sin(share * self.turn)
        return (self.centre[0] + x * cosine - y * sine, self.centre[1] + x * sine + y * cosine)


def no_rides() -> Floats:
    """Of a step that follows no face without a hollow."""
    return np.zeros((0, 3))


@dataclass(frozen=True)
class Cut:
    """What one enabled workingstep does.

    ``swept``: all that the tool passes through in its region, stock or not; reaches past the stock where sides
        are open. Its solids may touch or overlap.
    ``plan``: a region of the setup's x, y that covers ``swept``; empty where none is known.
    ``removal``: the metal that this step takes from the stock as it finds it. ``removal_volume`` is its volume.
    ``gouge``: the part of ``swept`` that lies in the finished part; None when there is none. Only a stated depth
        (``bottom_z``, ``cutting_depth``, ``overcut_length``) or a tool on a hole's axis can make one. Threads and
        the point's zone of a conical bottom are left out (``fit.bottom`` and ``fit.tap-drill`` speak of them).
    ``in_workholding``: the part of ``swept`` that lies in the workholding; None when there is none.
    ``reached``: ids of the features with a face that bounds the removal, in the part's order.
    ``tip_z``: lowest point of the tool (setup's frame). ``full_diameter_z``: lowest height at which a pointed
        tool has its full diameter; equals ``tip_z`` for flat tools.
    ``entry_z``: top of the metal that the step meets; equals ``tip_z`` when it meets none.
    ``bottom_z_nominal``: height of the features' bottom as modelled, before allowance, overcut or a stated depth.
    ``plunges``: one entry a hole for tools that work on an axis.
    ``spared``: levels at which the tool is too large for all that is free (tight corners, narrow places);
        ``Stage.left_by`` gives the metal. Empty when the tool gets everywhere.
    ``stands``: positions of an undercutting cutter beside part and workholding; empty for every other step.
    ``kept_off``: sections of an undercutting cutter without which its head would get to more of the metal.
    ``tips``: lowest height of the tip for each chamfer by its id, where its edge is followed.
    ``ways``: of a pointed cutter along V-grooves, from the lowest; empty for every other step.
    ``notes``: plain sentences about approximations and fallbacks.
    ``rides``: x, y and tip (n, 3; setup's frame) of the axis where a round corner follows faces without a hollow: its
        tip then stands lower than the place that it touches.
    ``followed``: ids of the features whose sloping floor a ball follows; any other such floor is left in steps.
    ``swept_known``: False when the kernel could not make the sweep; bodies are then empty and heights mean nothing.
    ``gouge_fault``, ``workholding_fault``: why ``gouge`` or ``in_workholding`` is not known, where it is not.
    """

    index: int
    step: Workingstep
    tool: Tool
    features: tuple[Feature, ...]
    swept: Body
    removal: Body
    removal_volume: float
    gouge: Body | None
    in_workholding: Body | None
    reached: tuple[str, ...]
    tip_z: float
    full_diameter_z: float
    entry_z: float
    bottom_z_nominal: float
    plunges: tuple[Plunge, ...] = ()
    spared: tuple[Spared, ...] = ()
    notes: tuple[str, ...] = ()
    swept_known: bool = True
    gouge_fault: str = ""
    workholding_fault: str = ""
    stands: tuple[Stand, ...] = ()
    kept_off: tuple[Section, ...] = ()
    tips: tuple[tuple[str, float], ...] = ()
    ways: tuple[Way, ...] = ()
    plan: Region = NOWHERE
    rides: Floats = field(default_factory=no_rides, compare=False)
    followed: tuple[str, ...] = ()

    @property
    def lowest_tip(self) -> float:
        """The same as ``tip_z``, where the corner touches higher than its tip stands too."""
        return min(self.tip_z, float(self.rides[:, 2].min(initial=math.inf)))


@dataclass(frozen=True)
class HoldingBody:
    """One solid of the workholding, in the part's frame."""

    name: str
    role: Role
    body: Body


@dataclass(frozen=True)
class Jaws:
    """How a vise meets the as-is stock. Coordinates in the setup's frame, along ``axis`` ("X" or "Y").

    ``low`` and ``high`` are the stock's extremes within the jaws' height, where the jaw faces stand; ``bed_z`` is
    the vise bed, ``support_z`` the top of the parallels (the stock's lowest height), ``top_z`` the jaws' top.
    ``grip`` is the height of metal between the jaws: ``top_z`` (or the nest's top) less ``support_z``.
    ``centre`` is the middle of the jaws' width in the other direction, ``width`` their length.
    """

    axis: Literal["X", "Y"]
    low: float
    high: float
    bed_z: float
    support_z: float
    top_z: float
    grip: float
    centre: float
    width: float

    @property
    def opening(self) -> float:
        """Distance between the jaw faces, mm."""
        return self.high - self.low


@dataclass(frozen=True)
class Holding:
    """The workholding, placed on the as-is stock. ``support_z`` is the stock's lowest height (setup's frame)."""

    kind: Literal["vise", "fixture_plate", "bodies"]
    bodies: tuple[HoldingBody, ...]
    support_z: float
    jaws: Jaws | None = None

    def of(self, *roles: str) -> tuple[HoldingBody, ...]:
        """The bodies with one of the roles."""
        return tuple(b for b in self.bodies if b.role in roles)

    @property
    def body(self) -> Body:
        """All of it as one body (solids may touch or overlap)."""
        return compound([b.body for b in self.bodies])


@dataclass(frozen=True)
class Balance:
    """Volumes of one stage: ``as_is`` - ``removed`` - ``loose`` = ``to_be``; ``error`` is what does not add up."""

    as_is: float
    removed: float
    loose: float
    to_be: float

    @property
    def error(self) -> float:
        """as_is - removed - loose - to_be, mm3."""
        return self.as_is - self.removed - self.loose - self.to_be


@dataclass(frozen=True)
class Stage:
    """One setup, cut. ``to_be`` is what the workholding still holds; the next stage starts from that very body.

    ``loose``: solids that came free in this setup and are gone after it. ``released`` is True when the part itself
    came free: nothing holds any solid (``to_be`` is then the largest one). ``before_steps`` caches stocks.
    ``standings[i]`` is what the stock before ``cuts[i]`` is worth, the last one ``to_be``; empty for all exact.
    ``failures`` are the operations that no exact way could do.
    """

    setup: Setup
    frame: Frame
    as_is: Body
    holding: Holding
    cuts: tuple[Cut, ...]
    to_be: Body
    loose: tuple[Body, ...]
    released: bool
    balance: Balance
    notes: tuple[str, ...] = ()
    standings: tuple[Standing, ...] = ()
    failures: tuple[Failure, ...] = ()
    before_steps: dict[int, Body] = field(default_factory=dict, repr=False, compare=False)

    def standing(self, i: int) -> Standing:
        """What the stock before ``cuts[i]`` is worth; ``i = len(cuts)`` is the stock at the end."""
        return self.standings[i] if self.standings else EXACT

    @property
    def result(self) -> Standing:
        """What ``to_be`` is worth."""
        return self.standing(len(self.cuts))

    @property
    def method(self) -> str:
        """How the metal that the setup leaves was computed, in words."""
        if not self.result.known:
            return "dexel field alone"
        if self.result.facets:
            return f"meshes, round faces within {self.result.facets:g} mm"
        return "exact solids, step by step" if self.notes else "exact solids"

    def stock_before(self, i: int) -> Body:
        """The stock as ``cuts[i]`` finds it; ``i = len(cuts)`` is the stock after the last cut, loose pieces included.

        Cut when first asked for, then kept: from the nearest earlier stock that is known. Once nothing more is taken it
        is what the setup leaves.
        """
        if i <= 0:
            return self.as_is
        if i not in self.before_steps and self._is_last(i):
            self.before_steps[i] = compound([self.to_be, *self.loose]) if self.loose else self.to_be
        if i not in self.before_steps:
            known = max((k for k in self.before_steps if k < i), default=0)
            start = self.before_steps.get(known, self.as_is)
            tools = [c.swept for c in self.cuts[known:i] if not is_empty(c.removal)]
            cut = cut_by_meshes if self.standing(i).facets else boolean.cut
            self.before_steps[i] = cut(start, tools) if tools else start
        return self.before_steps[i]

    def _is_last(self, i: int) -> bool:
        """Whether no step from the i-th on takes any metal, and what is left is as exact as it."""
        exact = all(self.standing(k).exact for k in range(len(self.cuts) + 1))
        return exact and all(is_empty(cut.removal) for cut in self.cuts[i:])

    def metal_before(self, i: int) -> tuple[Body, ...]:
        """Bodies that together are the metal of :meth:`stock_before`, where all is exact without another cut.

        They are what stays at the end, what comes loose and what the later steps take.
        """
        if i in self.before_steps or i <= 0 or not all(self.standing(k).exact for k in range(len(self.cuts) + 1)):
            return (self.stock_before(i),)
        later = (c.removal for c in self.cuts[i:])
        return tuple(body for body in (self.to_be, *self.loose, *later) if not is_empty(body))

    def left_by(self, i: int) -> Body:
        """The metal that ``cuts[i]`` should take but leaves, because its tool is too large to get in."""
        bodies = [level.body(self.frame) for level in self.cuts[i].spared]
        return boolean.common(self.stock_before(i), bodies, merge=False) if bodies else EMPTY
