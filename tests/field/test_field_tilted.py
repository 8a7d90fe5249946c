"""Setups whose axis runs along none of the part's: swept by the field itself. Closed forms stand beside.

In a block whose top the tilted axis meets at the pocket's or hole's own middle the mean depth is the depth there.
"""

import math
import sys

import pytest

import worker.field
from examples.shapes import box, cone, cut, cylinder, fuse
from tests.support.trial import inputs, plan, setup, step, tool
from tests.support.undercut import FINISH, RAW, block, turned
from worker.field import second_opinion, triangles
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage.removal.levels import tip_height

BLOCK = 80 * 60 * 40
POINT = 4 / math.tan(math.radians(59))
POCKET = {"class": "closed_pocket"}


def _pocket():
    """20 x 12, corners of 5, 8 deep on its axis."""
    corners = [cylinder((x, y, -8), (x, y, 9), 10) for x in (-5, 5) for y in (-1, 1)]
    return fuse(box((-5, -6, -8), (5, 6, 9)), box((-10, -1, -8), (10, 1, 9)), *corners)


def _hole():
    """Of 8, 20 deep on its axis, with a point of 118 degrees."""
    return fuse(cylinder((0, 0, -20), (0, 0, 21), 8), cone((0, 0, -20 - POINT), (0, 0, -20), 0, 8))


def _mill(diameter=10.0, **keys):
    return step(FINISH, tool("endmill", diameter), POCKET, **keys)


DRILL = step("drilling", tool("twist_drill", 8, SIG=118, LU=60), {"class": "round_hole"})
AREA = 20 * 12 - (4 - math.pi) * 25
ROUND = (1 - math.pi / 4) * (2 * (10 + 2) + 2 * math.pi * (5.1 - (10 - 3 * math.pi) / (12 - 3 * math.pi)))
"""What a corner of 1 leaves once round the pocket's floor 0.1 past its walls (Pappus)."""
CASES = {
    "pocket": (_pocket, _mill(), AREA * 8),
    "pocket, cutter too large": (_pocket, _mill(11.0), (20 * 12 - (4 - math.pi) * 5.5**2) * 8),
    "pocket, floor left higher": (_pocket, _mill(allowance_bottom=0.2), AREA * 7.8),
    "pocket, walls left": (
        _pocket,
        _mill(8.0, allowance_side=0.3),
        (19.4 * 11.4 - (4 - math.pi) * 4.7**2) * 8,
    ),
    "pocket, round corner, into the walls": (
        _pocket,
        step(FINISH, tool("bullnose_endmill", 8, RE=1), POCKET, allowance_side=-0.1),
        (20.2 * 12.2 - (4 - math.pi) * 5.1**2) * 8 - ROUND,
    ),
    "blind hole": (_hole, DRILL, math.pi * 16 * (20 + POINT / 3)),
}


def _seen(shape, work):
    hollow, z, x = turned(shape())
    tilted = setup([work], axis=z, ref_direction=list(x), location=[0, 0, 0])
    found = inputs(cut(block(), hollow), plan(RAW, tilted))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    return opinion


@pytest.mark.parametrize("name", CASES)
def test_closed_forms(name):
    shape, work, exact = CASES[name]
    opinion = _seen(shape, work)
    assert opinion.borrowed == ()
    assert opinion.field_volume == pytest.approx(BLOCK - exact, abs=1.0)
    assert opinion.agrees and opinion.relative_bound < 4e-5


def _too_deep(step, nominal, lowered=0.0):
    tip, stated = tip_height(step, nominal, lowered)
    return tip - 0.05, stated


def _blunt(tool, tip, full, top):
    return [(0.0, full), (tool.radius, full), (tool.radius, top), (0.0, top)]


FAULTS = {
    "0.05 too deep": ("pocket", "planes", "tip_height", _too_deep),
    "corners cut sharp": ("pocket, cutter too large", "levels", "open_by_disc", lambda region, radius: region),
    "no allowance": ("pocket, walls left", "levels", "grow", lambda region, amount: region),
    "a drill without its point": ("blind hole", "holes", "_tool_profile", _blunt),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_of_the_solid_s_sweep_is_told(monkeypatch, name):
    case, module, function, wrong = FAULTS[name]
    monkeypatch.setattr(sys.modules[f"worker.stage.removal.{module}"], function, wrong)
    shape, work, _ = CASES[case]
    opinion = _seen(shape, work)
    assert not opinion.agrees
    x, y, z = opinion.at
    assert -40 <= x <= 40 and -30 <= y <= 30 and -40 <= z <= 0


def test_triangles_with_gaps_leave_the_sweep_borrowed(monkeypatch):
    """They tell nothing of the turned lattice: the metal agrees as before, and the step rests on one method."""
    monkeypatch.setattr(worker.field, "has_gaps", lambda triangles, sure: True)
    opinion = _seen(*CASES["blind hole"][:2])
    assert opinion.agrees and opinion.borrowed and opinion.field_volume > BLOCK / 2


def test_each_body_is_triangulated_once_for_both_looks_at_a_tilted_setup(monkeypatch):
    """Along the part's axes and along its own a setup is held to the same triangles of part, blank and what is left."""
    asked = []
    plain = triangles.triangulate

    def listening(body, chord, **named):
        asked.append((body, chord))
        return plain(body, chord, **named)

    monkeypatch.setattr(triangles, "triangulate", listening)
    shape, work, exact = CASES["pocket"]
    opinion = _seen(shape, work)
    assert opinion.agrees and BLOCK - opinion.field_volume == pytest.approx(exact, rel=5e-3)
    assert len(asked) >= 3 and len(asked) == len(set(asked))
