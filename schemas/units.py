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
        return trimmed(self.length(mm), self._decimals)

    @property
    def _decimals(self) -> int:
        return 4 if self.name == "inch" else 3

    def texts(self, one: float, other: float) -> tuple[str, str]:
        """Two lengths as ``text`` writes them, with so many decimals more, two at most, that two digits of their
        difference show: ø 8.0011 mm beside 8 mm."""
        apart, decimals = abs(self.length(one) - self.length(other)), self._decimals
        while decimals < self._decimals + 2 and apart * 10.0**decimals < 10.0:
            decimals += 1
        first, second = (trimmed(self.length(mm), decimals) for mm in (one, other))
        return f"{first} {self.symbol}", f"{second} {self.symbol}"

    def volume_text(self, mm3: float) -> str:
        """A volume (mm3) as every text writes it; see ``volume_words``."""
        return volume_words(self.volume(mm3), self.name)

    def area_text(self, mm2: float) -> str:
        """An area (mm2) with its symbol: 480 mm2, 12.35 mm2; in2 in inch plans."""
        return f"{trimmed(self.area(mm2), 4 if self.name == 'inch' else 0 if mm2 >= 100 else 2)} {self.symbol}2"


def trimmed(value: float, decimals: int) -> str:
    """A number without trailing zeros."""
    written = f"{value:.{decimals}f}"
    written = written.rstrip("0").rstrip(".") if "." in written else written
    return "0" if written in ("-0", "") else written


def volume_words(value: float, name: UnitName) -> str:
    """A volume given in these units cubed: cm3 from 1000 mm3 up, in3 in inch plans; small ones with more decimals."""
    if name == "inch":
        return f"{trimmed(value, 4 if abs(value) >= 0.001 else 6)} in3"
    if abs(value) >= 1000:
        return f"{value / 1000:.2f} cm3"
    return f"{trimmed(value, 2 if abs(value) >= 0.01 else 6)} mm3"


MM = Units("mm")
INCH = Units("inch")


def units(name: UnitName) -> Units:
    """The Units of a plan's ``units`` word."""
    return INCH if name == "inch" else MM
