"""Every tolerance of the product in one table: name, value, unit and why it has that size.

Lengths in mm, angles in degrees, volumes in mm3, ratios without unit. Values are used by name. How finely one
algorithm samples, searches or guards its own rounding stands beside it, named and told; what is taken for equal, for
touching or for nothing stands here alone. ``policy.limits`` of a plan changes the thresholds of rules, never these.
"""

from __future__ import annotations

from typing import Final

COINCIDENT: Final = 1e-6
"""Two points, planes or faces are the same (mm): ten times the kernel's confusion distance of 1e-7."""
LENGTH: Final = 1e-3
"""Sizes are equal (mm): a micrometre, ten times finer than the finest general tolerance step a shop measures."""
ANGLE: Final = 0.01
"""Directions are parallel or square (degrees): 0.17 um over 1 mm, 17 um over 100 mm."""
OPENING_SLACK: Final = 0.51e-3
"""A cutter's radius is taken this much smaller (mm) when a region is opened: it enters a slot whose width is its own
within LENGTH, as tables round to (7.938 for 5/16 in), with a hundredth of that to spare."""
OPENING_LEAST: Final = 1e-4
"""By so much (mm) where that is enough, in a slot of just its own width: its round corners stay the nearer to it."""
VOLUME_NOTHING: Final = 1e-3
"""A volume below this (mm3) is no metal: a cube of 0.1 mm edge."""
LAYER: Final = 2e-3
"""Metal thinner than this on a face (mm) is not left stock: below what any gauge on the floor shows."""
TOUCH: Final = 0.01
"""Workholding and stock touch within this distance (mm): plans state fixtures with two or three decimals."""
CARRIED_TOUCH: Final = 1e-3
"""Workholding within this distance of the stock touches it (mm)."""
CONTACT_AREA: Final = 1e-4
"""A patch smaller than this (mm2) is an edge that touches."""
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
LEFT_OVER: Final = 1e-5
"""What is left on a part may exceed what the stock has more than the part by this share of the part: films that a cut
took off its faces, thinner than any tolerance."""
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
SEAM: Final = 5e-4
"""Faces that meet within this (mm) are sewn: corners of borders are merged within a micrometre, and arcs in place of
curves turn by some 1e-4 (radians) from one to the next, which the radius makes a gap."""
EDGE_GAP: Final = 0.05
"""Farthest (mm) that an edge of a file may lie beside its faces: sound exports stay below 0.01, damage is beyond 1."""
LAID: Final = 1e-5
"""An edge of a file that lies farther beside its faces (mm) is laid where they meet: as near as arcs follow curves."""
BORDER_GAP: Final = 1e-2
"""Gaps up to this (mm) in the border of a region are closed when no snap distance does."""
SAME_LENGTH: Final = 2e-3
"""Faces lie on one surface when sizes and places agree within this (mm): exporters round to a micrometre or so."""
ON_FACE: Final = 1e-3
"""How far the foot of a wall may lie off the face that it is to meet (mm)."""
SAME_ANGLE: Final = 2e-4
"""... and their directions within this (rad): 2 um over 10 mm."""
SMOOTH: Final = 0.01
"""Two faces meet smoothly when their normals differ by less than this (rad)."""
FOLDED: Final = 2e-3
"""Two faces fold back on each other when their normals are opposite within this (rad): where a wall of radius 1 mm
touches a plane, an edge drawn a micrometre off the line turns by that much."""
SMOOTH_FREE: Final = 0.025
"""The same where a face has no simple carrier: fitted free forms meet their neighbours less well."""
CANONICAL_NORMAL: Final = 1e-4
"""Largest deviation (rad) of a sampled normal from the simple surface that a free-form face is read as."""
SCREW_NORMAL: Final = 5e-3
"""Largest sine between a sampled normal and the plane square to a screw motion: threads are swept as splines."""
SCREW_AXIS: Final = 2e-3
"""Flanks belong to one thread when their axes' directions agree within this (sine)."""
SCREW_ALIKE: Final = 0.02
"""... and their leads within this share, their axes' places within this share of the pitch."""
SQUARE: Final = 2e-3
"""A wall or floor of a recess is parallel or square to a direction within this (sine): 0.1 degrees."""
ON_AXIS: Final = 5e-3
"""Round faces belong to one hole when their axes lie this near each other (mm)."""
COAXIAL: Final = 3e-4
"""... and their directions agree within this (sine)."""
STRIP: Final = 1e-3
"""The long sides of a chamfer are parallel within this (one less the cosine)."""
LEDGE: Final = 0.01
"""A shoulder narrower than this (mm) inside a bore is how a model was drawn: no tool cuts it, and none needs to."""
CONE_POINT: Final = 1e-3
"""A cone narrower than this at its end (radius, mm) ends in a point."""
OUTER: Final = 0.01
"""A plane is outermost when nothing of the part lies further out than this (mm); chords stay below it."""
LIMIT: Final = 0.01
"""A length this near a limit that is a choice of ours (so many times as long as wide) counts as the limit itself (mm):
what exporters round decides nothing, and drawings state no length so little beside such a limit."""
PATTERN_PLACE: Final = 5e-3
"""Members of a pattern lie in their places within this (mm)."""
ID_STEP: Final = 0.02
"""Ids tell sizes and places apart in steps of this (mm)."""
ID_TURN: Final = 1e-3
"""Ids tell directions apart in steps of this (component of a unit vector)."""
SIGHT_WALL: Final = 2e-4
"""A plane is seen along its own face when its normal is square to the line of sight within this (sine)."""
SIGHT_CURVED: Final = 0.02
"""The same for triangles of curved faces, which lie up to one chord off."""
SIGHT_MARGIN: Final = 0.03
"""Overlaps thinner than this (mm) in the line of sight are the chords of two meshes, not metal in the way."""


def table() -> dict[str, float]:
    """Name to value, in alphabetical order: goes into every report as evidence."""
    return {
        name.lower(): value for name, value in sorted(globals().items()) if name.isupper() and name != "TYPE_CHECKING"
    }
