"""What reach tells of one workingstep: frozen values that rules and reports read (mm, heights in the setup's frame)."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.base import Vec3
from worker.reach.assembly import Kind


@dataclass(frozen=True)
class Contact:
    """Where a part of the assembly would touch: ``depth`` is how far it would go below the top of what it meets.

    ``point`` is the top of the obstacle there (part's frame); ``body`` names it: "part", "stock" or the element
    of the workholding.
    """

    kind: Kind
    depth: float
    point: Vec3
    body: str


@dataclass(frozen=True)
class Cover:
    """What stands over a feature: the feature, the body, the covered point of the feature (part's frame)."""

    feature: str
    body: str
    point: Vec3


@dataclass(frozen=True)
class Block:
    """A body of the workholding that the cutter itself has to enter, a place where it does (part's frame), and the
    diameter of the largest cutter that would not; None where none is known."""

    body: str
    point: Vec3
    widest: float | None


@dataclass(frozen=True)
class Below:
    """What lies under a tool that has come through, and the room left between them (mm)."""

    body: str
    room: float


@dataclass(frozen=True)
class Reach:
    """Reach of one workingstep.

    ``clearing``: the shortest stick-out with which the holder clears everything, None without a holder.
    ``least_stickout``: the same, but never so short that the stated cutting edge would stand in the holder.
    ``stickout_margin``: the tool's stick-out less the least one. ``holder``: the worst contact with anything at the
    stated stick-out, None when clear; ``shank``, ``neck``: the worst with stock or part, ``in_holding``: the worse of
    theirs with the workholding. ``depth``: how far the tip goes below the wall beside it (highest
    metal beside the cutter's path); ``usable``: the tool's LU, or how far it stands out where that is less and no
    holder is stated; ``deepest``: the top of that wall, ``beside``: the body it is of, named only where the depth is
    more than is usable.
    ``slimmest_holder``: largest diameter of the holder's lower end that clears at the stated stick-out (None when
    no holder thicker than the cutter would); ``largest_shank``: the same for neck or shank.
    ``below``: what lies under a tool that comes through. ``covered``: what stands over the features; ``blocks``: what
    the cutter itself has to enter; ``cutter``: where one whose flank runs on a chamfer meets stock or part beside it,
    ``widest_cutter`` the largest diameter that would not, ``clear_tip`` a tip's height (setup's frame) from which it
    would not, where the plan states another; ``flank``: how high over its tip the chamfers come up on it.
    ``exact``: True when a solid, not the height map, decided.
    """

    step: str
    tool: str
    usable: float
    clearing: float | None = None
    least_stickout: float | None = None
    stickout_margin: float | None = None
    holder: Contact | None = None
    shank: Contact | None = None
    neck: Contact | None = None
    depth: float = 0.0
    deepest: Vec3 | None = None
    slimmest_holder: float | None = None
    largest_shank: float | None = None
    in_holding: Contact | None = None
    below: Below | None = None
    beside: str = ""
    covered: tuple[Cover, ...] = ()
    blocks: tuple[Block, ...] = ()
    cutter: Contact | None = None
    widest_cutter: float | None = None
    clear_tip: float | None = None
    flank: float = 0.0
    exact: bool = False
    notes: tuple[str, ...] = ()

    @property
    def length_shortfall(self) -> float:
        """How much LU is too short for the depth; 0 when it is enough."""
        return max(0.0, self.depth - self.usable)

    @property
    def holder_checked(self) -> bool:
        """False for a tool that is stated without a holder."""
        return self.least_stickout is not None
