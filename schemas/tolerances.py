"""Every tolerance of the product in one table: name, value, unit and why it has that size.

Lengths in mm, angles in degrees, volumes in mm3, ratios without unit. Values are used by name; nothing else in
the code may carry a bare tolerance of its own. ``policy.limits`` of a plan changes the thresholds of rules,
never these.
"""

from __future__ import annotations

from typing import Final

COINCIDENT: Final = 1e-6
"""Two points, planes or faces are the same (mm): ten times the kernel's confusion distance of 1e-7."""
LENGTH: Final = 1e-3
"""Sizes are equal (mm): a micrometre, ten times finer than the finest general tolerance step a shop measures."""
ANGLE: Final = 0.01
"""Directions are parallel or square (degrees): 0.17 um over 1 mm, 17 um over 100 mm."""
OPENING_SLACK: Final = 1e-4
"""A cutter's radius is taken this much smaller (mm) when a region is opened: it enters a slot of its own width."""
VOLUME_RELATIVE: Final = 1e-6
"""Two computations of one volume agree (ratio)."""
VOLUME_NOTHING: Final = 1e-3
"""A volume below this (mm3) is no metal: a cube of 0.1 mm edge."""
LAYER: Final = 2e-3
"""Metal thinner than this on a face (mm) is not left stock: below what any gauge on the floor shows."""
TOUCH: Final = 0.01
"""Workholding and stock touch within this distance (mm): plans state fixtures with two or three decimals."""
STICKOUT: Final = 0.02
"""Stated accuracy of a least stick-out (mm)."""
MESH: Final = 0.02
"""Chord deviation of triangulations (mm)."""
CANONICAL: Final = 1e-4
"""A free-form surface is read as plane, cylinder, cone or sphere within this distance (mm)."""
SEEN_ANGLE: Final = 1e-3
"""A wall is parallel to an axis when its normal is square to it within this angle (degrees)."""
INTEGRATION: Final = 1e-10
"""Adaptive integration of a face stops at this relative step: 1e-6 can stop it 1e-5 early between two splines."""
BALANCE: Final = 1e-7
"""Share of a stock that may go astray in a boolean before its result is refused (ratio)."""
MERGE_VOLUME: Final = 1e-9
"""Change of volume at which a joining of faces is thrown away (ratio)."""
FUZZY: Final = 1e-5
"""First fuzzy value (mm) of a boolean whose plain call failed; the last is ten times that."""
ASIDE: Final = 3e-5
"""A tool that no other way could cut is moved by this (mm): a sixtieth of the thinnest layer that counts."""
FACETS: Final = 1e-3
"""Chord deviation (mm) of solids cut as meshes, where no boolean on true faces works: half the thinnest layer."""
SEWING: Final = 1e-3
"""Widest gap (mm) closed in a file's open shell: exporters write edges to this or better."""


def table() -> dict[str, float]:
    """Name to value, in alphabetical order: goes into every report as evidence."""
    return {
        name.lower(): value for name, value in sorted(globals().items()) if name.isupper() and name != "TYPE_CHECKING"
    }
