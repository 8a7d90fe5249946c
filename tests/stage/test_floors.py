"""Floor fillets and round cutters: what a sharp, a matching and a larger corner radius leave (closed forms)."""

from __future__ import annotations

import math

import pytest
from OCP.BRepFilletAPI import BRepFilletAPI_MakeFillet
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from examples.shapes import Shape, box, cut, rounded_block, volume
from tests.support.trial import plan, raw_box, setup, stages_of, step, taken, to_be, tool

REL = 1e-6
PI = math.pi
FINISH = "bottom_and_side_finish_milling"
RAW = raw_box((-50, -40, -30), (50, 40, 2))


def filleted_pocket(corner: float, fillet: float) -> tuple[Shape, float]:
    """A block with a 60 x 40 x 15 pocket, floor filleted; and the pocket's volume below z = 0."""
    core = rounded_block((-30, -20, -15), (30, 20, 10), corner)
    maker = BRepFilletAPI_MakeFillet(core)
    explorer = TopExp_Explorer(core, TopAbs_ShapeEnum.TopAbs_EDGE)
    while explorer.More():
        edge = TopoDS.Edge_s(explorer.Current())
        centre = GProp_GProps()
        BRepGProp.LinearProperties_s(edge, centre)
        if abs(centre.CentreOfMass().Z() + 15) < 1e-6:
            maker.Add(fillet, edge)
        explorer.Next()
    tool_shape = maker.Shape()
    block = box((-50, -40, -30), (50, 40, 0))
    part = cut(block, tool_shape)
    return part, volume(block) - volume(part)


def residual(radius: float, corner: float, a: float = 60, b: float = 40) -> float:
    """Metal between floor, wall and a corner radius, once round the pocket (V20's formula)."""
    section = (1 - PI / 4) * radius**2
    centroid = radius * (10 - 3 * PI) / (12 - 3 * PI)
    return section * (2 * (a - 2 * corner) + 2 * (b - 2 * corner)) + 2 * PI * (corner - centroid) * section


def over(corner: float) -> float:
    """The 2 mm of stock above the surface in the pocket's column."""
    return 2 * (60 * 40 - (4 - PI) * corner**2)


def pocket_step(cutter: dict[str, object]) -> dict[str, object]:
    return step(FINISH, cutter, {"class": "closed_pocket"})


@pytest.mark.parametrize("cutter", [tool("bullnose_endmill", 10, RE=2), tool("bullnose_endmill", 10, RE=1.5)])
def test_a_corner_no_larger_than_the_fillet_makes_the_floor(cutter: dict[str, object]) -> None:
    part, below = filleted_pocket(6, 2)
    (stage,) = stages_of(part, plan(RAW, setup([pocket_step(cutter)])))
    assert taken(stage) == pytest.approx(below + over(6), rel=REL)


def test_a_sharp_cutter_leaves_the_metal_over_the_fillet() -> None:
    # over the fillet the narrowest ground of the level is the floor's flat part
    part, _ = filleted_pocket(6, 2)
    (stage,) = stages_of(part, plan(RAW, setup([pocket_step(tool("endmill", 8))])))
    upper = 60 * 40 - (4 - PI) * 36
    lower = 56 * 36 - (4 - PI) * 16
    assert taken(stage) == pytest.approx(upper * 13 + lower * 2 + over(6), rel=REL)


def test_a_larger_corner_leaves_what_its_own_round_leaves() -> None:
    part, _ = filleted_pocket(6, 1)
    (stage,) = stages_of(part, plan(RAW, setup([pocket_step(tool("bullnose_endmill", 10, RE=3))])))
    upper = 60 * 40 - (4 - PI) * 36
    assert taken(stage) == pytest.approx(upper * 15 - residual(3, 6) + over(6), rel=REL)


def test_a_ball_in_a_slot_of_its_width_leaves_two_round_edges() -> None:
    # a ball of radius r in a slot 2r wide with a sharp floor: two corners (1 - pi/4) r^2 along the slot
    block = box((-50, -40, -30), (50, 40, 0))
    part = cut(block, box((-60, -5, -12), (60, 5, 1)))
    work = step(FINISH, tool("ballnose_endmill", 10), {"class": "slot"})
    (stage,) = stages_of(part, plan(raw_box((-50, -40, -30), (50, 40, 0)), setup([work])))
    left = 2 * (1 - PI / 4) * 25 * 100
    assert to_be(stage) - volume(part) == pytest.approx(left, rel=1e-4)


def test_an_island_leaves_a_round_foot_about_its_corners() -> None:
    # about a square corner of an island the round foot is a quarter turn: section x pi/2 x distance of its centroid
    block = box((-50, -40, -30), (50, 40, 0))
    part = cut(block, cut(box((-60, -60, -10), (60, 60, 1)), box((-20, -10, -30), (20, 10, 0))))
    work = step(FINISH, tool("bullnose_endmill", 12, RE=2), {"at": [-40, 0, -10]})
    (stage,) = stages_of(part, plan(raw_box((-50, -40, -30), (50, 40, 0)), setup([work])))
    section = (1 - PI / 4) * 4
    centroid = 2 * (10 - 3 * PI) / (12 - 3 * PI)
    assert to_be(stage) - volume(part) == pytest.approx(section * (120 + 2 * PI * centroid), rel=1e-5)
