"""Screw threads: designations, pitch, minor-diameter limits and tap drills (mm).

Sources: basic profile ISO 68-1 (D1 = d - 1.082532 P). Class 6H minor-diameter tolerances: ISO 965-1 table, which
cannot be rebuilt from its own formula; from memory except M3 and M4, read in a maker's catalogue table. Class 2B
minor-diameter tolerance: ASME B1.1 formula, from memory; agrees with 19 printed rows.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction

from schemas.units import MM_PER_INCH

COARSE: dict[float, float] = {
    1.6: 0.35,
    2: 0.4,
    2.5: 0.45,
    3: 0.5,
    3.5: 0.6,
    4: 0.7,
    5: 0.8,
    6: 1.0,
    7: 1.0,
    8: 1.25,
    10: 1.5,
    12: 1.75,
    14: 2.0,
    16: 2.0,
    18: 2.5,
    20: 2.5,
    22: 2.5,
    24: 3.0,
    27: 3.0,
    30: 3.5,
    33: 3.5,
    36: 4.0,
    39: 4.0,
    42: 4.5,
    45: 4.5,
    48: 5.0,
    52: 5.0,
    56: 5.5,
    60: 5.5,
    64: 6.0,
}
"""ISO 261 coarse pitches (from memory; M3 to M24 agree with the tap-drill charts)."""
MINOR_TOLERANCE_6H: dict[float, float] = {
    0.35: 0.100,
    0.4: 0.112,
    0.45: 0.125,
    0.5: 0.140,
    0.6: 0.160,
    0.7: 0.180,
    0.75: 0.190,
    0.8: 0.200,
    1.0: 0.236,
    1.25: 0.265,
    1.5: 0.300,
    1.75: 0.335,
    2.0: 0.375,
    2.5: 0.450,
    3.0: 0.500,
    3.5: 0.560,
    4.0: 0.600,
    4.5: 0.670,
    5.0: 0.710,
    5.5: 0.750,
    6.0: 0.800,
}
"""TD1 of class 6H by pitch, ISO 965-1 (0.5 and 0.7 read in a maker's table, the rest from memory)."""
NUMBER_SIZES: dict[int, float] = {n: 0.060 + 0.013 * n for n in (0, 1, 2, 3, 4, 5, 6, 8, 10, 12)}
"""Unified number sizes in inch, ASME B1.1: d = 0.060 + 0.013 n."""
MINOR_FACTOR = 5 / 8 * math.sqrt(3)
"""D1 = d - (5/8) sqrt(3) P, ISO 68-1: 1.082532 P."""


@dataclass(frozen=True, slots=True)
class Thread:
    """A 60 degree screw thread. ``major`` and ``pitch`` in mm; ``unified`` tells which table limits it."""

    designation: str
    major: float
    pitch: float
    unified: bool
    left: bool = False

    @property
    def minor(self) -> float:
        """Basic minor diameter of the internal thread, also its lower limit (6H, 2B), mm."""
        return self.major - MINOR_FACTOR * self.pitch

    @property
    def minor_max(self) -> float:
        """Upper limit of the internal thread's minor diameter (class 6H or 2B), mm."""
        return self.minor + (self._tolerance_2b() if self.unified else _tolerance_6h(self.pitch))

    def _tolerance_2b(self) -> float:
        p, d = self.pitch / MM_PER_INCH, self.major / MM_PER_INCH
        usual = 0.25 * p - 0.4 * p * p
        if d >= 0.25:
            return usual * MM_PER_INCH
        small = 0.05 * p ** (2 / 3) + 0.03 * p / d - 0.002
        return float(min(max(small, usual), 0.394 * p)) * MM_PER_INCH


def _tolerance_6h(pitch: float) -> float:
    if pitch in MINOR_TOLERANCE_6H:
        return MINOR_TOLERANCE_6H[pitch]
    return float((433 * pitch - 190 * pitch**1.22) if pitch <= 0.8 else 230 * pitch**0.7) / 1000


_LEFT = re.compile(r"\s*-?\s*LH$")
_METRIC = re.compile(r"^M(\d+(?:\.\d+)?)(?:\s*[xX×]\s*(\d+(?:\.\d+)?))?$")
_UNIFIED = re.compile(
    r"^(?:#(\d+)|(?:(\d+)[- ])?(\d+)/(\d+)|(\d+)|(\d*\.\d+))\s*-\s*(\d+)(?:\s*(UNC|UNF|UNEF|UN|UNS))?$"
)


def parse_thread(designation: str) -> Thread:
    """The thread of a designation such as M12x1.75, M12 (coarse), 1/2-13 UNC or #10-24 UNC; -LH after it: left-hand.

    Raises ValueError with the forms that are understood.
    """
    text, left = _LEFT.subn("", designation.strip())
    found = _right_hand(text, designation)
    return replace(found, designation=f"{text}-LH", left=True) if left else found


def _right_hand(text: str, designation: str) -> Thread:
    if found := _METRIC.match(text):
        return _metric(text, float(found[1]), found[2])
    if found := _UNIFIED.match(text):
        return _unified(text, found)
    raise ValueError(
        f"thread '{designation}' is not understood: write M12x1.75, M12 (coarse), 1/2-13 UNC or #10-24 UNC"
    )


def _metric(text: str, major: float, pitch: str | None) -> Thread:
    if pitch is None and major not in COARSE:
        raise ValueError(f"thread '{text}' has no coarse pitch in ISO 261: state it, as in M{major:g}x1")
    value = float(pitch) if pitch else COARSE[major]
    if not 0 < value < major / 2:
        raise ValueError(f"thread '{text}' has an impossible pitch of {value:g} mm")
    return Thread(text, major, value, unified=False)


def _unified(text: str, found: re.Match[str]) -> Thread:
    number, whole, numerator, denominator, integer, decimal, tpi = found.groups()[:7]
    if number is not None:
        if int(number) not in NUMBER_SIZES:
            raise ValueError(f"thread '{text}': #{number} is no Unified number size")
        major = NUMBER_SIZES[int(number)]
    elif numerator is not None:
        if int(denominator) == 0:
            raise ValueError(f"thread '{text}': the fraction has no denominator")
        major = float(int(whole or 0) + Fraction(int(numerator), int(denominator)))
    else:
        major = float(integer or decimal)
    if int(tpi) == 0 or 1 / int(tpi) > major / 2:
        raise ValueError(f"thread '{text}' has an impossible pitch of {tpi} per inch")
    return Thread(text, major * MM_PER_INCH, MM_PER_INCH / int(tpi), unified=True)
