"""A cone that the tilted spindle touches along one line looks up nowhere: chords that lean over it are no step."""

from __future__ import annotations

import math
from functools import lru_cache

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Trsf

from examples import shapes
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, setup, step, taken, tool

LEAN = math.sqrt(0.5)
OUTLINE = [(0, 0, 0), (0, 0, 10), (0, 2, 10), (0, 2, 25), (0, -2, 25), (0, -2, 30), (0, 12, 30), (0, 12, 0)]


def sunk(seam: float) -> shapes.Shape:
    """A bar with a groove 2 deep and 15 high in its front, over it a nose; a hole countersunk by 90 degrees from the
    back, so that from 45 degrees above the front the cone's lowest line is upright; its seam turned by some degrees."""
    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(15, 0, 22), gp_Dir(0, 1, 0)), math.radians(seam))
    cone = BRepBuilderAPI_Transform(shapes.cone((15, 12, 22), (15, 9.75, 22), 9, 4.5), turn, True).Shape()
    bar = shapes.prism(shapes.polygon(OUTLINE), (30, 0, 0))
    return shapes.cut(bar, shapes.cylinder((15, -5, 22), (15, 13, 22), 4.5), cone)


@lru_cache
def milled(seam: float) -> float:
    """What both computations take off the front below the groove, from its upper edge on, by a cutter of 6."""
    front = step("plane_finish_milling", tool("endmill", 6), {"class": "planar_face", "at": [15, 0, 4]})
    return taken(agreed(sunk(seam), plan(raw_box((-3, -7, -3), (33, 15, 33)), setup([front], (0, -LEAN, LEAN)))))


@pytest.mark.parametrize("seam", [30, 180])
def test_a_face_is_milled_as_low_whatever_way_the_cone_is_meshed(seam: float) -> None:
    """What stays in the groove hangs on heights at which faces end, and the cone's is none of them: both computations
    agree at any seam, on one volume (the drawing is the same)."""
    assert milled(seam) == pytest.approx(milled(0), rel=1e-9)
