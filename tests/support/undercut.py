"""Parts with grooves, T-slots and dovetails, and the cutters that make them (mm)."""

from __future__ import annotations

import math

from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf

from examples.shapes import Shape, box, cut, cylinder, fuse, polygon, prism
from schemas.base import Vec3
from tests.support.trial import Json, raw_box, step, tool

FINISH = "bottom_and_side_finish_milling"
RAW = raw_box((-40, -30, -40), (40, 30, 0))
SLOT = {"class": "slot"}
SLANT = 10 / math.tan(math.radians(60))
"""How much wider a dovetail of 60 degrees and 10 deep is below than at its mouth, each side."""


def block() -> Shape:
    """80 x 60 x 40, its top at 0."""
    return box((-40, -30, -40), (40, 30, 0))


def t_slot(end: float = 41) -> Shape:
    """Along X: mouth 10 wide and 12 deep, foot 18 wide and 8 high; open on the left, on the right up to 41."""
    return cut(block(), box((-41, -5, -12), (end, 5, 1)), box((-41, -9, -20), (end, 9, -12)))


def with_mouth() -> Shape:
    """The block with the T-slot's mouth cut down to the foot's floor."""
    return cut(block(), box((-41, -5, -20), (41, 5, 1)))


def dovetail() -> Shape:
    """Along X: mouth 12 wide, 10 deep, walls at 60 degrees to the floor."""
    outline = [(-41, -6, 0), (-41, -6 - SLANT, -10), (-41, 6 + SLANT, -10), (-41, 6, 0)]
    return cut(block(), prism(polygon(outline), (82, 0, 0)))


def with_channel() -> Shape:
    """The block with the dovetail's mouth cut straight down to its floor."""
    return cut(block(), box((-41, -6, -10), (41, 6, 1)))


def bore(*grooves: Shape) -> Shape:
    """A plate of 80 x 80 x 40 with a bore of 40 and grooves in its wall."""
    return cut(box((-40, -40, -40), (40, 40, 0)), cylinder((0, 0, -40), (0, 0, 0), 40), *grooves)


def boss() -> Shape:
    """A cylinder of 40, 30 high."""
    return cylinder((0, 0, -30), (0, 0, 0), 40)


def rounded_end() -> Shape:
    """A T-slot open on the left, its right end as round as the cutters that make it."""
    mouth = [box((-41, -5, -20), (10, 5, 1)), cylinder((10, 0, -12), (10, 0, 0), 10)]
    foot = [box((-41, -9, -20), (10, 9, -12)), cylinder((10, 0, -20), (10, 0, -12), 18)]
    return cut(block(), *mouth, *foot)


def keyed() -> Shape:
    """A T-slot closed at both ends, with a hole as wide as its foot at the left one."""
    mouth = [box((-20, -5, -20), (20, 5, 1)), cylinder((20, 0, -12), (20, 0, 0), 10)]
    foot = [box((-20, -9, -20), (20, 9, -12)), cylinder((20, 0, -20), (20, 0, -12), 18)]
    return cut(block(), *mouth, *foot, cylinder((-20, 0, -20), (-20, 0, 0), 18))


def t_mill(**sizes: float) -> Json:
    """A T-slot cutter for the T-slot: as wide and as high as its foot, with a neck that passes the mouth."""
    return tool("t_slot_mill", **{"DC": 18, "APMX": 8, "DN": 9, "LU": 25, "DMM": 9, **sizes})


def dovetail_mill(**sizes: float) -> Json:
    """A dovetail cutter for the dovetail."""
    return tool("dovetail_mill", **{"DC": 16, "APMX": 10, "KAPR": 60, "DN": 4, "LU": 15, "DMM": 4, **sizes})


def side_mill(**sizes: float) -> Json:
    """A side mill of 20 with a slender neck."""
    return tool("side_mill", **{"DC": 20, "APMX": 4, "DN": 10, "LU": 30, "DMM": 10, **sizes})


def mouth(feature: Json | str = SLOT, diameter: float = 10) -> Json:
    """The step of a straight cutter that opens the mouth down to the floor."""
    return step(FINISH, tool("endmill", diameter), feature)


def turned(shape: Shape, degrees: float = 17.0) -> tuple[Shape, Vec3, Vec3]:
    """The shape turned about a skew line through the origin; what was Z and X."""
    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(1, 2, 0.5)), math.radians(degrees))
    z, x = (gp_Dir(*d).Transformed(turn) for d in ((0, 0, 1), (1, 0, 0)))
    moved = BRepBuilderAPI_Transform(shape, turn, True).Shape()
    return moved, (z.X(), z.Y(), z.Z()), (x.X(), x.Y(), x.Z())


def flat_groove(outside: bool) -> Shape:
    """A ring groove 3 high and 3 deep: round the side of a boss of 40, or in the wall of the bore."""
    if not outside:
        return bore(cylinder((0, 0, -15), (0, 0, -12), 46))
    return fuse(
        cylinder((0, 0, -30), (0, 0, 0), 34),
        cylinder((0, 0, -30), (0, 0, -15), 40),
        cylinder((0, 0, -12), (0, 0, 0), 40),
    )
