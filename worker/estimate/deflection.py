"""How far the side force bends a milling cutter at its tip: a cantilever held at the holder's face; an estimate."""

from __future__ import annotations

import math

from schemas.tool import Tool

CARBIDE, STEEL = 600_000.0, 210_000.0
"""Young's modulus in N/mm2 of cemented carbide and of high speed steel (a tool maker's course on end mills)."""
FLUTED = 0.8
"""Diameter of a round bar that bends as a fluted one of DC does, as a share of DC: 0.7 to 0.8 in the same course."""
ASSUMED = "tip deflection as of a solid carbide cantilever, fluted part 0.8 DC: tool maker's course"


def bar_deflection(force: float, length: float, diameter: float, modulus: float) -> float:
    """y = F l^3 / (3 E I), I = pi d^4 / 64, in mm: a round bar (mm, N, N/mm2) fixed at one end, pushed at the other."""
    return force * length**3 / (3 * modulus * math.pi * diameter**4 / 64)


def tip_deflection(tool: Tool, force: float, modulus: float = CARBIDE) -> float:
    """Deflection of the tip in mm under a side force in N.

    The fluted part is LU long and bends as 0.8 DC (a neck: DN), the rest up to the holder as DMM. Both parts bend as if
    each were held at its own upper end and the turn of the upper one is carried down: the closed form of a stepped bar.
    """
    fluted = min(tool.usable_length, tool.stickout)
    thin = min(FLUTED * tool.diameter, tool.neck_diameter)
    below = bar_deflection(force, fluted, thin, modulus)
    whole, same = (bar_deflection(force, x, tool.shank_diameter, modulus) for x in (tool.stickout, fluted))
    return below + whole - same
