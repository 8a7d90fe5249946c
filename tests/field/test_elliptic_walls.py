"""Walls of ellipses: the field's part has chords there, and the bound of its volume counts what they cut off."""

from __future__ import annotations

import math

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.gp import gp_Ax2, gp_Dir, gp_Elips, gp_Pnt

from examples.shapes import box, cut, prism
from tests.support.agreed import agreed
from tests.support.trial import plan, raw_box, setup, step, tool

LONG, WIDE, DEEP = 25.0, 15.0, 12.0
"""Half axes and depth of the pocket: its narrowest bend has 15 * 15 / 25 = 9 mm."""


def test_a_pocket_of_an_ellipse_is_taken_alike():
    ellipse = gp_Elips(gp_Ax2(gp_Pnt(40, 30, 8), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0)), LONG, WIDE)
    face = BRepBuilderAPI_MakeFace(BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(ellipse).Edge()).Wire()).Face()
    part = cut(box((0, 0, 0), (80, 60, 20)), prism(face, (0, 0, 20)))
    works = [step("bottom_and_side_finish_milling", tool("endmill", 3), {"class": "closed_pocket"})]
    stage = agreed(part, plan(raw_box((0, 0, 0), (80, 60, 20)), setup(works)))
    assert stage.cuts[0].removal_volume == pytest.approx(math.pi * LONG * WIDE * DEEP, rel=1e-6)
