"""Specific cutting force per ISO 513 group: Kienzle's kc = kc1.1 * h^-mc (h in mm, kc in N/mm2)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from schemas.plan import Material

KIENZLE_SOURCE = "tool maker's user guide 2022, material groups by ISO 513 and VDI 3323"


@dataclass(frozen=True)
class Cuttability:
    """How hard a material is to cut: ``kc11`` in N/mm2 at h = b = 1 mm, ``mc`` the exponent, and where from."""

    group: str
    kc11: float
    mc: float
    source: str

    def specific_force(self, chip_thickness: float) -> float:
        """kc in N/mm2 at this chip thickness in mm."""
        return self.kc11 * math.pow(chip_thickness, -self.mc)


def _row(group: str, kc11: float, mc: float, what: str) -> Cuttability:
    return Cuttability(group, kc11, mc, f"kc1.1 {kc11:g} N/mm2, mc {mc:g}: {what}; {KIENZLE_SOURCE}")


CUTTABILITY: dict[str, Cuttability] = {
    "P": _row("P", 1775.0, 0.24, "VDI 3323 group 6, low alloy steel, annealed"),
    "M": _row("M", 2150.0, 0.20, "VDI 3323 group 14, austenitic stainless steel"),
    "K": _row("K", 1350.0, 0.28, "VDI 3323 group 16, pearlitic grey cast iron"),
    "N": _row("N", 800.0, 0.25, "VDI 3323 group 22, wrought aluminium, hardened"),
    "S": _row("S", 3300.0, 0.24, "VDI 3323 group 33, nickel or cobalt alloy, annealed (titanium needs less)"),
    "H": _row("H", 4600.0, 0.24, "VDI 3323 group 38, hardened steel 55 HRC; mc not printed there, taken as for P"),
}
"""The group's usual material; where two stand for a group, the one that needs more force."""
UNKNOWN = Cuttability("P", 1775.0, 0.24, "no iso513_group stated: cutting data of group P (low alloy steel) taken")


def cuttability(material: Material | None) -> Cuttability:
    """The row of the plan's material; of group P, and saying so, where the plan names no group."""
    if material is None or material.iso513_group is None:
        return UNKNOWN
    return CUTTABILITY[material.iso513_group]
