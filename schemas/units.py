"""Units: everything inside is mm; this is the border where lengths are converted, once, in each direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

UnitName = Literal["mm", "inch"]
MM_PER_INCH = 25.4
"""Exact by definition (international yard and pound agreement, 1959)."""


@dataclass(frozen=True, slots=True)
class Units:
    """How lengths are written outside. ``scale`` is mm per unit."""

    name: UnitName

    @property
    def scale(self) -> float:
        """Mm per unit of length."""
        return MM_PER_INCH if self.name == "inch" else 1.0

    @property
    def symbol(self) -> str:
        """The symbol used in texts."""
        return "in" if self.name == "inch" else "mm"

    def length(self, mm: float) -> float:
        """A length in these units."""
        return mm / self.scale

    def area(self, mm2: float) -> float:
        """An area in these units, squared."""
        return mm2 / self.scale**2

    def volume(self, mm3: float) -> float:
        """A volume in these units, cubed."""
        return mm3 / self.scale**3

    def text(self, mm: float) -> str:
        """A length as a machinist writes it: three decimals in mm, four in inch, no trailing zeros, with the symbol."""
        return f"{self.number(mm)} {self.symbol}"

    def number(self, mm: float) -> str:
        """As ``text``, without the symbol."""
        digits = 4 if self.name == "inch" else 3
        written = f"{self.length(mm):.{digits}f}".rstrip("0").rstrip(".")
        return "0" if written in ("-0", "") else written


MM = Units("mm")
INCH = Units("inch")


def units(name: UnitName) -> Units:
    """The Units of a plan's ``units`` word."""
    return INCH if name == "inch" else MM
