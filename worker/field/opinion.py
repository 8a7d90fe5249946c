"""What the field says of each setup beside the solid model: two volumes, and how far apart they may honestly be."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.base import Vec3

EXTRA = "second_opinion"
"""Name under which rules find the opinions: a mapping of setup id to Opinion."""


@dataclass(frozen=True)
class Opinion:
    """One setup, twice. Volumes and ``bound`` in mm3; ``method`` says how the field came to its volume.

    ``field_volume`` is that by the set of lines with the smallest bound, or, where lines were compared one by one, the
    solid's with the larger of what only one of them has added or taken off. ``borrowed`` names the steps whose swept
    body was taken over from the solid model (as triangles), because the field has no way of its own to sweep them: for
    those only the boolean is checked, and the plan does not pass. ``carried``: the field went on from the setup before.
    ``unswept`` names the steps that neither of the two could sweep: their metal is still there. ``at`` is a point
    (part's frame) in the largest lump of a difference.
    """

    setup: str
    solid_volume: float
    field_volume: float
    bound: float
    method: str
    borrowed: tuple[str, ...] = ()
    carried: bool = False
    unswept: tuple[str, ...] = ()
    at: Vec3 | None = None

    @property
    def difference(self) -> float:
        """Field less solid, mm3."""
        return self.field_volume - self.solid_volume

    @property
    def relative_difference(self) -> float:
        """|difference| as a share of the solid's volume."""
        return abs(self.difference) / max(self.solid_volume, 1e-9)

    @property
    def relative_bound(self) -> float:
        """The bound as a share of the solid's volume."""
        return self.bound / max(self.solid_volume, 1e-9)

    @property
    def agrees(self) -> bool:
        """True when the two lie within the bound."""
        return abs(self.difference) <= self.bound
