"""Stress at which a material of an ISO 513 group gives way for good, and what hollow walls bear; mm, N, N/mm2."""

from __future__ import annotations

YIELD = {"P": 235.0, "M": 200.0, "K": 150.0, "N": 250.0, "S": 800.0, "H": 1000.0}
"""N/mm2: EN 10025 S235, EN 10088 1.4301, grey iron in bending, EN AW-6082 T6, Ti-6Al-4V, hardened steel (usual values,
from memory: real stock often bears more, annealed aluminium less)."""


def wall_share(thickness: float, span: float, held_ends: int) -> float:
    """The pressure that a wall bears in bending as a share of the yield stress: a strip under even load. Held at both
    ends p l^2 / 12 against t^2 / 6 gives 2 (t / l)^2, held at one p l^2 / 2 gives (t / l)^2 / 3 (elastic beams)."""
    if held_ends == 0:
        return 0.0
    return min((2.0 if held_ends == 2 else 1.0 / 3.0) * (thickness / span) ** 2, 1.0)
