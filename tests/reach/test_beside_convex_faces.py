"""Stick-out over faces that bulge or lean: a corner's lowest point lies r (1 - n) below the place that it touches, its
axis r sqrt(1 - n^2) beside it, n the height of the unit normal there. Held to closed forms and to columns."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from numpy.typing import NDArray
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeFace, BRepBuilderAPI_MakeWire
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism
from OCP.gp import gp_Ax2, gp_Dir, gp_Elips, gp_Pnt, gp_Vec

from examples.shapes import Shape, ball, box, common, cut, cylinder, fuse, polygon, prism
from tests.support.trial import FAR_PLATE, Json, inputs, plan, raw_box, setup, stages_of, step, step_bytes, tool
from worker.pipeline import check_plan
from worker.reach import reach_of
from worker.reach.model import Reach

Floats = NDArray[np.float64]
FOLLOW = "freeform_operation"
LYING: Json = {"class": "profile_feature", "axis": [1, 0, 0]}


def ball_tool(holder: float, stickout: float) -> Json:
    sizes = {"APMX": 6, "LU": 12, "DMM": 10, "stickout": stickout, "holder": [{"diameter": holder, "length": 60}]}
    return tool("ballnose_endmill", 10, **sizes)


def beside(top: float, *places: tuple[float, float, float, float]) -> Json:
    """Workholding far below, and clamps over rectangles (x0, y0, x1, y1) up to a height of the setup."""
    clamps = [{"type": "clamp", "box": {"min": [x0, y0, -90], "max": [x1, y1, top]}} for x0, y0, x1, y1 in places]
    return {"type": "fixture_plate", "elements": [*FAR_PLATE["elements"], *clamps]}


def document_of(named: Json, blank: Json, held: Json, holder: float, stickout: float) -> Json:
    return plan(blank, setup([step(FOLLOW, ball_tool(holder, stickout), named)], workholding=held))


def reached(part: Shape, document: Json) -> Reach:
    (stage,) = stages_of(part, document)
    return reach_of(stage, inputs(part, document).part)["10"]


def half_round() -> Shape:
    """A half round of radius 20 on a block of its width: its edge lies level at 40, its crest at 60."""
    bar = cylinder((0, 0, 40), (60, 0, 40), 40)
    return fuse(box((0, -20, 0), (60, 20, 40)), common(bar, box((0, -20, 40), (60, 20, 60))))


BAR = raw_box((0, -20, 0), (60, 20, 60))


@pytest.mark.parametrize(("holder", "gap", "least"), [(30, 60.0, 0.0), (50, 29.9, 37.0), (50, 30.1, 25.0)])
def test_a_ball_beside_a_half_round_stands_its_radius_below_the_edge(holder: float, gap: float, least: float) -> None:
    """The tip comes down to 35, the axis to 25 from the middle: a holder of radius h stands over the crown from 25 - h,
    and over clamps that end at 72 where they are nearer to it than h."""
    clamps = [(-30, 20 + gap, 30, 30 + gap), (-30, -30 - gap, 30, -20 - gap)]
    found = reached(half_round(), document_of(LYING, BAR, beside(12, *clamps), holder, 60))
    crown = 5 + math.sqrt(20**2 - (25 - holder / 2) ** 2)
    assert found.clearing == pytest.approx(least or crown, abs=0.02)


@pytest.mark.parametrize(("stickout", "told"), [(22.2, True), (22.4, False)])
def test_a_stick_out_too_short_by_a_tenth_is_told(stickout: float, told: bool) -> None:
    """5 + sqrt(20^2 - 10^2) = 22.32 mm."""
    vise: Json = {
        "type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 55, "parallel_height": 45,
        "max_opening": 120, "clamping_force": 20000,
    }  # fmt: skip
    document = document_of(LYING, BAR, vise, 30, stickout)
    document["workpiece"]["material"] = {"name": "aluminium", "iso513_group": "N"}
    report = check_plan(step_bytes(half_round()), json.dumps(document).encode(), {}).report
    assert {f.code for f in report.findings if f.level == "error"} == ({"reach.stickout"} if told else set())


def test_an_edge_round_and_a_chamfer_are_followed_to_below_their_edges() -> None:
    """A round of 8 ends at 22, upright: tip 17, axis 5 beside it, 13 from the flat at 30. A chamfer of 8 at 45 degrees
    ends at 22: tip 5 (1 - cos 45) lower, axis 5 sin 45 beside it."""
    corner = box((-1, 12, 22), (61, 21, 31))
    rounded = cut(box((0, -20, 0), (60, 20, 30)), cut(corner, cylinder((-2, 12, 22), (62, 12, 22), 16)))
    blank, held = raw_box((0, -20, 0), (60, 20, 30)), beside(-40, (-30, 80, 30, 90))
    found = reached(rounded, document_of({"class": "edge_round"}, blank, held, 28, 60))
    assert found.clearing == pytest.approx(13.0, abs=0.02)
    assert reached(chamfered(), document_of({"class": "chamfer"}, blank, held, 28, 60)).clearing == pytest.approx(
        8 + 5 * (1 - math.sqrt(0.5)), abs=0.02
    )


def chamfered() -> Shape:
    return prism(polygon([(0, -20, 0), (0, 20, 0), (0, 20, 22), (0, 12, 30), (0, -20, 30)]), (60, 0, 0))


def cap(rho: Floats) -> Floats:
    """Heights of a dome of 6 over a disc of radius 15 on a plate that ends at 20."""
    radius = (15**2 + 6**2) / 12
    return np.where(rho <= 15, 26 - radius + np.sqrt(radius**2 - np.minimum(rho, 15) ** 2), 20.0)


def test_round_a_dome_the_ball_comes_to_rest_on_the_plate() -> None:
    """By columns: the axis out to where the ball touches dome and plate at once, the tip as low as both let it."""
    radius = (15**2 + 6**2) / 12
    cut_off = box((-20, -20, 20), (20, 20, 30))
    part = fuse(box((-30, -30, 0), (30, 30, 20)), common(ball((0, 0, 26 - radius), radius), cut_off))
    clamp = (33.0, 2.0, 50.0, 12.0)
    held = beside(24, clamp)
    document = document_of({"class": "boss"}, raw_box((-30, -30, 0), (30, 30, 26)), held, 40, 60)
    assert reached(part, document).clearing == pytest.approx(_over_the_dome(50.0, 20.0, clamp), abs=0.05)


def _over_the_dome(top: float, holder: float, clamp: tuple[float, float, float, float]) -> float:
    away = np.linspace(-5, 5, 2001)
    bowl = 5 - np.sqrt(np.maximum(25 - away**2, 0))
    rho = np.arange(0.0, 25.0, 0.01)
    tips = np.array([(cap(np.abs(one + away)) - bowl).max() for one in rho])
    out = np.flatnonzero(tips > 20 + 1e-6)  # it still stands on the dome
    rho, tips = rho[: out[-1] + 2], tips[: out[-1] + 2]
    need = [float((cap(np.maximum(rho - holder, 0)) - tips).max())]
    for turn in np.radians(np.arange(0, 360, 0.5)):
        x, y = rho * math.cos(turn), rho * math.sin(turn)
        off = np.hypot(np.maximum(clamp[0] - x, 0), np.maximum(np.maximum(clamp[1] - y, y - clamp[3]), 0))
        need.append(float((top - tips[off < holder]).max(initial=-np.inf)))
    return max(need)


def elliptic(rise: float) -> Shape:
    """The same block under half an ellipse, 20 to each side and ``rise`` high: a free form."""
    across = gp_Elips(gp_Ax2(gp_Pnt(0, 0, 40), gp_Dir(1, 0, 0), gp_Dir(0, 1, 0)), 20, rise)
    outline = BRepBuilderAPI_MakeWire(BRepBuilderAPI_MakeEdge(across).Edge()).Wire()
    bar = BRepPrimAPI_MakePrism(BRepBuilderAPI_MakeFace(outline).Face(), gp_Vec(60, 0, 0)).Shape()
    return fuse(box((0, -20, 0), (60, 20, 40)), common(bar, box((0, -30, 40), (60, 30, 70))))


@pytest.mark.parametrize(("rise", "holder"), [(15, 50), (15, 30), (10, 44)])
def test_a_ball_beside_a_free_form_stands_as_low(rise: float, holder: float) -> None:
    """Its edge lies level as the half round's: the tip at 35, the axis 25 from the middle, the holder over it."""
    blank = raw_box((0, -20, 0), (60, 20, 40 + rise))
    found = reached(elliptic(rise), document_of({"class": "region"}, blank, beside(12, (-30, 80, 30, 90)), holder, 60))
    nearest = max(25 - holder / 2, 0.0)
    assert found.clearing == pytest.approx(5 + rise * math.sqrt(1 - (nearest / 20) ** 2), abs=0.02)
