"""Round bottoms: a cutter with a flat between its corners bridges them, a ball does not, and a fillet beside a floor is
none.

Closed form: a flat 4 mm across stands 8 - sqrt(8^2 - 2^2) = 0.25 mm above the bottom of a trough of radius 8.
"""

from __future__ import annotations

import json
import math

import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.TopoDS import TopoDS_Face

from bench.reencode import divided
from tests.support.block import Json, as_step, one_setup, solid_block, told
from tests.support.filleted import filleted_pocket
from worker.kernel import boolean
from worker.kernel import primitives as solid
from worker.kernel.shape import Body
from worker.pipeline import check_plan

REACH: Json = {"APMX": 20, "LU": 30, "stickout": 40}
BULL: Json = {"id": "BU", "type": "bullnose_endmill", "DC": 6, "RE": 1, "DMM": 6, **REACH}
BALL: Json = {"id": "BA", "type": "ballnose_endmill", "DC": 12, "DMM": 12, **REACH}


def _without(*tools: Body) -> Body:
    return boolean.cut(solid_block(), list(tools))


def _trough() -> Body:
    return _without(solid.cylinder((-1, 20, 20), (61, 20, 20), 16))


def _upright_plane() -> TopoDS_Face:
    """Along the trough's lowest line."""
    return BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(0, 20, 0), gp_Dir(0, 1, 0)), -100, 100, -100, 100).Face()


BOTTOMS = {
    "trough in halves": (lambda: divided(_trough(), [_upright_plane()])[0], "slot"),
    "dish": (lambda: _without(solid.sphere((30, 20, 26), 30)), "closed_pocket"),
}


def _codes(part: bytes, tool: Json, of: str) -> set[str]:
    """Codes of what is graver than a note, by both computations."""
    steps = [{"id": "10", "operation": "freeform_operation", "tool": tool["id"], "features": [{"class": of}]}]
    report = check_plan(part, json.dumps(one_setup(steps, tool)).encode(), {}).report
    return {finding.code for finding in report.findings if finding.level != "note"}


@pytest.mark.parametrize("name", BOTTOMS)
def test_a_flat_bridges_a_round_bottom_and_a_ball_does_not(name: str) -> None:
    make, of = BOTTOMS[name]
    assert _codes(as_step(make()), BULL, of) == {"fit.floor-radius", "left.stock"}
    assert _codes(as_step(make()), BALL, of) == set()


def test_an_end_mill_roughs_a_round_bottom_in_terraces_and_a_ball_finishes_it() -> None:
    """With 0.2 mm left on all sides the upright part of the slot alone is 11.6 x 7.8 x 60 mm."""
    slot = _without(solid.box((-1, 14, 12), (61, 26, 21)), solid.cylinder((-1, 20, 12), (61, 20, 12), 12))
    flat: Json = {"id": "EM", "type": "endmill", "DC": 6, "DMM": 6, **REACH}
    ball: Json = {"id": "B8", "type": "ballnose_endmill", "DC": 8, "DMM": 8, **REACH}
    both = {"features": [{"class": "slot"}]}
    rough = {"id": "10", "operation": "bottom_and_side_rough_milling", "tool": "EM", "allowance_side": 0.2, **both}
    fine = {"id": "20", "operation": "bottom_and_side_finish_milling", "tool": "B8", **both}
    plan = one_setup([{**rough, "allowance_bottom": 0.2}, fine], flat, ball)
    report = check_plan(as_step(slot), json.dumps(plan).encode(), {}).report
    assert [f.code for f in report.findings if f.level != "note"] == []
    whole = 60 * (12 * 8 + math.pi * 6**2 / 2)
    first, second = (step.removal or 0.0 for step in report.setups[0].workingsteps)
    assert 11.6 * 7.8 * 60 < first < whole and first + second == pytest.approx(whole, rel=1e-6)


def test_half_a_trough_whose_bottom_is_an_open_side_leaves_the_flat_room() -> None:
    half = _without(solid.cylinder((-1, 0, 20), (61, 0, 20), 16))
    assert _codes(as_step(half), BULL, "open_pocket") == set()


def test_the_fillets_of_a_pocket_are_no_trough() -> None:
    assert "left.stock" not in _codes(filleted_pocket(1.0), BULL, "closed_pocket")


def test_a_bottom_of_no_one_radius_is_told_without_one() -> None:
    """A trough that widens from 10 to 16: no radius is its own, and any ball is round enough for the rule."""
    part = as_step(_without(solid.cone((-1, 20, 20), (61, 20, 20), 10, 16)))
    flat: Json = {"id": "EM", "type": "endmill", "DC": 6, "DMM": 6, **REACH}
    of = {"operation": "bottom_and_side_finish_milling", "features": [{"class": "open_pocket"}]}
    for tool, wrong in ((flat, True), ({**BALL, "DC": 6, "DMM": 6}, False)):
        found = told(one_setup([{"id": "10", "tool": tool["id"], **of}], tool), part)
        texts = [f"{f.message} {f.remedy and f.remedy.text}" for f in found if f.code == "fit.floor-radius"]
        assert len(texts) == wrong and all("0 mm" not in text.split(";", 1)[1] for text in texts)
