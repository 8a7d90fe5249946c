"""Cutting tools and holders: classes of ISO 14649-111, dimensions by their ISO 13399 symbols (mm, degrees)."""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from schemas.base import Identifier, Model, NotNegative, Number, Positive
from schemas.threads import Thread, parse_thread
from schemas.tolerances import LENGTH

ToolType = Literal[
    "endmill",
    "bullnose_endmill",
    "ballnose_endmill",
    "facemill",
    "shouldermill",
    "side_mill",
    "t_slot_mill",
    "dovetail_mill",
    "chamfer_mill",
    "twist_drill",
    "spotdrill",
    "countersink",
    "counterbore",
    "tapping_cutting_tool",
    "reaming_cutting_tool",
    "rotating_boring_cutting_tool",
]
MILLS = frozenset(
    {
        "endmill",
        "bullnose_endmill",
        "ballnose_endmill",
        "facemill",
        "shouldermill",
        "side_mill",
        "t_slot_mill",
        "dovetail_mill",
    }
)
"""Tools that cut with their side while they travel."""
PLUNGERS = frozenset(
    {
        "twist_drill",
        "spotdrill",
        "countersink",
        "counterbore",
        "tapping_cutting_tool",
        "reaming_cutting_tool",
        "rotating_boring_cutting_tool",
    }
)
"""Tools that work on a hole's axis."""
EDGE_IS_LU = frozenset(
    {
        "twist_drill",
        "tapping_cutting_tool",
        "reaming_cutting_tool",
        "spotdrill",
        "countersink",
        "counterbore",
        "rotating_boring_cutting_tool",
        "chamfer_mill",
    }
)
UNDERCUTTERS = frozenset({"t_slot_mill", "dovetail_mill", "side_mill"})
SQUARE_EDGE = 5.0
"""Degrees by which the edge of a boring tool may stand off square: it is square to all that is checked."""
POINT_SLACK = 0.5
"""Degrees by which twice KAPR may miss SIG: room for rounding."""
NEEDS_ANGLE = frozenset({"spotdrill", "countersink", "chamfer_mill"})
MAY_BE_BLUNT = NEEDS_ANGLE | {"twist_drill"}
"""Tools whose point may end in a flat of ``tip_diameter``."""
THREAD_SLACK = 0.01
"""Share by which a tap's TP and DC may miss its thread's: room for rounding (0.077 for 1/13 in) and oversize taps, less
than half the step between neighbouring pitches of any series (1/27 and 1/28 in lie 3.6 % apart)."""
USUAL_POINT = 118.0
"""Included point angle of a general-purpose twist drill when SIG is not stated (common practice), degrees."""


class HolderSection(Model):
    """One section of the holder stack, from the holder face upwards: a cylinder, or a cone with ``top_diameter``."""

    diameter: Positive
    length: Positive
    top_diameter: Positive | None = None

    @property
    def top(self) -> float:
        """Diameter at the upper end, mm."""
        return self.diameter if self.top_diameter is None else self.top_diameter


class Tool(Model):
    """A tool as it stands in its holder. ``stickout`` runs from the holder's face to the tip."""

    id: Identifier
    type: ToolType
    name: str | None = None
    DC: Positive | None = Field(default=None, description="cutting diameter (largest, for pointed tools)")
    APMX: Positive | None = Field(default=None, description="length of the cutting edge along the axis")
    LU: Positive | None = Field(default=None, description="usable length")
    DMM: Positive | None = Field(default=None, description="shank diameter, DC when absent")
    DN: Positive | None = Field(default=None, description="neck diameter, DC when absent (a dovetail mill states it)")
    RE: NotNegative | None = Field(default=None, description="corner radius")
    SIG: Number | None = Field(default=None, gt=0, le=180, description="included point angle")
    KAPR: Number | None = Field(default=None, gt=0, le=180, description="cutting edge angle")
    OAL: Positive | None = Field(default=None, description="overall length")
    NOF: int | None = Field(default=None, ge=1, le=64, strict=True, description="number of flutes")
    TP: Positive | None = Field(default=None, description="thread pitch")
    stickout: Positive
    tip_diameter: NotNegative | None = None
    thread: str | None = None
    holder: tuple[HolderSection, ...] = ()

    @field_validator("thread")
    @classmethod
    def _thread_is_known(cls, value: str | None) -> str | None:
        if value is not None:
            parse_thread(value)
        return value

    @model_validator(mode="after")
    def _complete(self) -> Self:
        for fault in _faults(self):
            raise ValueError(f"tool {self.id} ({self.type}): {fault}")
        return self

    @property
    def diameter(self) -> float:
        """Cutting diameter, mm; a tap's is the thread's major diameter."""
        if self.DC is not None:
            return self.DC
        assert self.thread is not None  # _faults saw to it
        return parse_thread(self.thread).major

    @property
    def radius(self) -> float:
        """Half the cutting diameter, mm."""
        return self.diameter / 2

    @property
    def corner_radius(self) -> float:
        """RE, mm: half the diameter for a ball-nose, 0 where nothing is stated."""
        return self.radius if self.type == "ballnose_endmill" else self.RE or 0.0

    @property
    def flank_half_angle(self) -> float | None:
        """Half of SIG in degrees for pointed tools; None for flat ones."""
        if self.SIG is not None:
            return self.SIG / 2
        return USUAL_POINT / 2 if self.type == "twist_drill" else None

    @property
    def point_length(self) -> float:
        """PL, mm: (DC - tip diameter) / 2 / tan(SIG / 2); 0 for flat tools (ISO 13399)."""
        half = self.flank_half_angle
        if half is None or half >= 90 or self.type not in EDGE_IS_LU:
            return 0.0
        return (self.diameter - (self.tip_diameter or 0.0)) / 2 / math.tan(math.radians(half))

    @property
    def edge_length(self) -> float:
        """Length of the cutting edge from the tip, mm: APMX; for drills and taps LU."""
        first, second = (self.LU, self.APMX) if self.type in EDGE_IS_LU else (self.APMX, self.LU)
        return first or second or self.stickout

    @property
    def usable_length(self) -> float:
        """LU, mm; the edge's length where LU is not stated."""
        return self.LU or self.edge_length

    @property
    def neck_diameter(self) -> float:
        """Diameter between the edge and LU, mm."""
        return self.DN or self.diameter

    @property
    def shank_diameter(self) -> float:
        """Diameter above LU, mm."""
        return self.DMM or self.diameter

    @property
    def screw(self) -> Thread | None:
        """The thread a tap makes."""
        return parse_thread(self.thread) if self.thread else None


def _faults(tool: Tool) -> list[str]:
    """What contradicts or is absent; the first one is told."""
    found: list[str] = []
    if tool.type == "tapping_cutting_tool" and tool.thread is None:
        found.append("give its 'thread', as in M12x1.75 or 1/2-13 UNC")
    if tool.DC is None and tool.type != "tapping_cutting_tool":
        found.append("give its cutting diameter 'DC'")
    if tool.type in NEEDS_ANGLE and tool.SIG is None:
        found.append("give its included angle 'SIG'")
    if tool.type == "dovetail_mill" and tool.KAPR is None:
        found.append("give its cutting edge angle 'KAPR'")
    if tool.type == "bullnose_endmill" and not tool.RE:
        found.append("give its corner radius 'RE'")
    if tool.type in MILLS and tool.APMX is None and tool.LU is None:
        found.append("give the length of its edge 'APMX'")
    return found + _contradictions(tool) + _too_stout(tool) + _without_meaning(tool)


def _contradictions(tool: Tool) -> list[str]:
    found: list[str] = []
    if tool.DC is not None and tool.RE is not None and tool.RE > tool.DC / 2 + 1e-9:
        found.append("'RE' is larger than half of 'DC'")
    if (
        tool.type == "ballnose_endmill"
        and tool.RE is not None
        and tool.DC
        and abs(tool.RE - tool.DC / 2) > 1e-6 * tool.DC
    ):
        found.append("a ball-nose has 'RE' equal to half of 'DC'")
    if tool.DC is not None and (tool.tip_diameter or 0.0) > tool.DC:
        found.append("'tip_diameter' is larger than 'DC'")
    if tool.type in NEEDS_ANGLE and tool.SIG is not None and tool.SIG >= 180:
        found.append("a 'SIG' of 180 degrees is flat: give the included angle of the point, below 180")
    if tool.type in NEEDS_ANGLE and tool.DC is not None and tool.tip_diameter == tool.DC:
        found.append("'tip_diameter' as large as 'DC' leaves no cone")
    if tool.APMX and tool.LU and tool.APMX > tool.LU * (1 + 1e-9):
        found.append("'APMX' is longer than 'LU'")
    if tool.type in EDGE_IS_LU and tool.DC and tool.LU and (tool.DN or 0.0) > tool.DC + LENGTH:
        found.append("'DN' is thicker than its edge, which goes up to 'LU': what stands above that is its shank 'DMM'")
    found += [
        f"'{k}' is longer than 'OAL'" for k in ("stickout", "LU") if tool.OAL and (getattr(tool, k) or 0.0) > tool.OAL
    ]
    return found


def _too_stout(tool: Tool) -> list[str]:
    """A dovetail's head tapers from its tip to its top, from which its neck goes on: it can be no thicker there."""
    if tool.type != "dovetail_mill" or tool.DC is None or tool.KAPR is None or not tool.APMX:
        return []
    flank = math.radians(min(tool.KAPR, 180.0 - tool.KAPR))
    top = tool.DC - (2 * tool.APMX / math.tan(flank) if 0 < flank < math.pi / 2 else 0.0)
    if tool.neck_diameter <= top + LENGTH:
        return []
    what = "its neck 'DN' is" if tool.DN else "give its neck diameter 'DN': as wide as 'DC' it would be"
    return [f"{what} thicker than the top of its head, which is DC less 2 APMX / tan KAPR"]


def _unread(tool: Tool) -> tuple[str, ...]:
    """A tap is its thread; a drill's point has edges, no corner."""
    return {"tapping_cutting_tool": ("RE", "SIG"), "twist_drill": ("RE",)}.get(tool.type, ())


def _without_meaning(tool: Tool) -> list[str]:
    """What a tool of this type does not have: it would be ignored, and nothing is ignored silently."""
    found: list[str] = []
    if tool.type != "tapping_cutting_tool":
        found += [f"'{name}' belongs to a tap: leave it out" for name in ("thread", "TP") if getattr(tool, name)]
    elif tool.screw:
        for name, stated, meant, what in (
            ("TP", tool.TP, tool.screw.pitch, "pitch"),
            ("DC", tool.DC, tool.screw.major, "diameter"),
        ):
            if stated is not None and abs(stated - meant) > THREAD_SLACK * meant:
                found.append(f"'{name}' is not the {what} of {tool.thread}: correct one of them")
    if tool.tip_diameter and tool.type not in MAY_BE_BLUNT:
        found.append("'tip_diameter' belongs to pointed tools: leave it out")
    if tool.KAPR is not None and tool.type in MAY_BE_BLUNT and abs(2 * tool.KAPR - (tool.SIG or 0.0)) > POINT_SLACK:
        found.append("'KAPR' of a point is half of 'SIG': give 'SIG' alone")
    blunt = tool.type in PLUNGERS and tool.type not in MAY_BE_BLUNT
    if tool.KAPR is not None and blunt and abs(tool.KAPR - 90.0) > SQUARE_EDGE:
        found.append(f"'KAPR' says nothing to a {tool.type}, whose wall its side makes: leave it out")
    found += [f"'{name}' says nothing to a {tool.type}: leave it out" for name in _unread(tool) if getattr(tool, name)]
    if tool.type in MILLS and tool.SIG is not None and tool.SIG < 180:
        found.append("'SIG' is the angle of a point: leave it out, or state another type")
    return found
