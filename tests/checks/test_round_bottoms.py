"""Round bottoms: a cutter with a flat between its corners bridges them, a ball does not, and a fillet beside a floor is
none.

Closed form: a flat 4 mm across stands 8 - sqrt(8^2 - 2^2) = 0.25 mm above the bottom of a trough of radius 8.
"""

from __future__ import annotations

import json

import pytest

from bench.rewrites import in_halves
from tests.support.block import Json, as_step, one_setup, solid_block
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


BOTTOMS = {
    "trough": (_trough, "slot"),
    "trough in halves": (lambda: in_halves(_trough(), 0), "slot"),
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


def test_half_a_trough_whose_bottom_is_an_open_side_leaves_the_flat_room() -> None:
    half = _without(solid.cylinder((-1, 0, 20), (61, 0, 20), 16))
    assert _codes(as_step(half), BULL, "open_pocket") == set()


def test_the_fillets_of_a_pocket_are_no_trough() -> None:
    assert "left.stock" not in _codes(filleted_pocket(1.0), BULL, "closed_pocket")
