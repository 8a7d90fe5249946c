"""The few sizes of a cut that a time estimate needs; plain numbers, no kernel. Lengths in mm, volumes in mm3."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class CutSizes:
    """``volume`` removed, ``extent`` of the removal along the setup's X, Y, Z, and the ``plunges`` of a step on holes.

    A plunge is the travel from the top of the metal to the tip's lowest point.
    """

    volume: float
    extent: tuple[float, float, float] = (0.0, 0.0, 0.0)
    plunges: tuple[float, ...] = ()

    @property
    def depth(self) -> float:
        """Height of the metal removed."""
        return self.extent[2]
