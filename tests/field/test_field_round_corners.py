"""Bull-nose and ball cutters on level floors, swept by the field itself: closed forms, and faults of the solid's sweep.

What the corner r leaves between floor and wall has the section (1 - pi/4) r^2, its centroid (10 - 3 pi) / (12 - 3 pi) r
off the wall (a square less a quarter circle): once along straight walls, turned about corners (Pappus).
"""

import math
import sys

import pytest

from examples.shapes import box, cut, rounded_block
from tests.support.trial import inputs, plan, raw_box, setup, step, tool
from tests.support.undercut import FINISH
from tests.volumes.test_sloping_floors import sloped
from worker.field import second_opinion
from worker.kernel import measure
from worker.kernel.sweep import prism
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage import carry, rungs

PLATE = 60 * 50 * 12
LONG, WIDE, DEEP = 40, 30, 8


def _plate(*hollows):
    return cut(box((-30, -25, -12), (30, 25, 0)), *hollows)


def _pocket():
    return _plate(rounded_block((-20, -15, -8), (20, 15, 1), 5))


def _with_island():
    return _plate(cut(rounded_block((-20, -15, -8), (20, 15, 1), 5), box((-6, -4, -9), (6, 4, 2))))


def _slot():
    return _plate(box((-31, -5, -8), (31, 5, 1)))


def _step():
    return _plate(box((10, 5, -8), (31, 26, 1)))


def _shallow():
    return _plate(box((-31, 5, -4), (31, 26, 1)))


def _section(r):
    return (1 - math.pi / 4) * r**2


def _off(r):
    return r * (10 - 3 * math.pi) / (12 - 3 * math.pi)


def _inside(r, corner, side=0.0):
    """What is left once round a rectangle with round corners, and its area."""
    a, b, corner = LONG - 2 * side, WIDE - 2 * side, max(corner - side, 0.0)
    round_it = 2 * (a + b - 4 * corner) + 2 * math.pi * (corner - _off(r))
    return _section(r) * round_it, a * b - (4 - math.pi) * corner**2


def _cleared(r, corner, side=0.0, deep=DEEP):
    left, area = _inside(r, corner, side)
    return area * deep - left


def _foot(r, deep):
    """What a quarter round of r leaves of its corner up to a height below r: r h less the half segment."""
    return r * deep - (r * r * math.acos((r - deep) / r) - (r - deep) * math.sqrt(2 * r * deep - deep**2)) / 2


def _bull(diameter, corner):
    return tool("bullnose_endmill", diameter, RE=corner)


POCKET = {"class": "closed_pocket"}
ISLAND = 12 * 8 * DEEP + _section(2) * (40 + 2 * math.pi * _off(2))
CASES = {
    "bull": (_pocket, _bull(8, 2), {}, _cleared(2, 5)),
    "ball as round as the corners": (_pocket, tool("ballnose_endmill", 10), {}, _cleared(5, 5)),
    "bull too large for the corners": (_pocket, _bull(14, 3), {}, _cleared(3, 7)),
    "allowances": (
        _pocket,
        _bull(6, 1),
        {"allowance_side": 0.3, "allowance_bottom": 0.2},
        _cleared(1, 5, 0.3, DEEP - 0.2),
    ),
    "island with square corners": (_with_island, _bull(8, 2), {}, _cleared(2, 5) - ISLAND),
    "ball in a slot of its width": (_slot, tool("ballnose_endmill", 10), {}, 60 * (80 - 2 * _section(5))),
    "ball of more than the depth": (_shallow, tool("ballnose_endmill", 16), {}, 60 * (20 * 4 - _foot(8, 4))),
    "open corner": (_step, _bull(10, 2), {}, 0.0),
}
CASES["open corner"] = (*CASES["open corner"][:3], 400 * 8 - (4 - math.pi) / 4 * 25 * 8 - _section(2) * (
    30 + math.pi / 2 * (5 - _off(2))
))  # fmt: skip
FEATURES = {
    _pocket: POCKET,
    _with_island: POCKET,
    _slot: {"class": "slot"},
    _step: {"class": "step"},
    _shallow: {"class": "step"},
}


def _seen(shape, cutter, keys):
    work = step(FINISH, cutter, FEATURES[shape], **keys)
    document = plan(raw_box((-30, -25, -12), (30, 25, 0)), setup([work], location=[0, 0, 0]))
    found = inputs(shape(), document)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    return opinion


@pytest.mark.parametrize("name", CASES)
def test_closed_forms(name):
    shape, cutter, keys, exact = CASES[name]
    opinion = _seen(shape, cutter, keys)
    assert opinion.borrowed == ()
    assert opinion.field_volume == pytest.approx(PLATE - exact, abs=opinion.bound)
    assert opinion.agrees and opinion.relative_bound < 4e-4


def _sharp(region, frame, low, high, corner_radius, within):
    return prism(region, frame, low, high)


def _changed(right, low=0.0, share=1.0):
    def wrong(region, frame, low_end, high, corner_radius, within):
        return right(region, frame, low_end + low, high, share * corner_radius, within)

    return wrong


FAULTS = {
    "0.02 too deep": ("bull", "round_cornered", lambda right: _changed(right, low=-0.02)),
    "0.02 too high": ("ball as round as the corners", "round_cornered", lambda right: _changed(right, low=0.02)),
    "a sharp corner": ("bull", "round_cornered", lambda right: _sharp),
    "a corner a tenth too large": ("bull", "round_cornered", lambda right: _changed(right, share=1.1)),
    "a ball too blunt": ("ball in a slot of its width", "round_cornered", lambda right: _changed(right, share=0.98)),
    "a cutter 2 % too small": (
        "bull too large for the corners", "open_by_disc", lambda right: lambda region, r: right(region, 0.98 * r),
    ),
    "corners cut square": ("bull too large for the corners", "open_by_disc", lambda right: lambda region, r: region),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_of_the_solid_s_sweep_is_told(monkeypatch, name):
    case, function, wrong = FAULTS[name]
    levels = sys.modules["worker.stage.removal.levels"]
    monkeypatch.setattr(levels, function, wrong(getattr(levels, function)))
    assert not _seen(*CASES[case][:3]).agrees


@pytest.mark.parametrize("deeper", [0.0, 0.02])
def test_terraces_on_a_slope_are_swept_and_a_fault_is_told(monkeypatch, deeper):
    levels = sys.modules["worker.stage.removal.levels"]
    monkeypatch.setattr(levels, "round_cornered", _changed(levels.round_cornered, low=-deeper))
    work = step(FINISH, _bull(8, 1), POCKET, technology={"axial_cutting_depth": 2.5})
    document = plan(raw_box((-40, -30, -40), (40, 30, 0)), setup([work], location=[0, 0, 0]))
    found = inputs(sloped(), document)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    assert opinion.borrowed == ()
    assert opinion.agrees == (deeper == 0.0)


def test_levels_of_too_many_faces_are_cut_step_by_step_and_the_solid_says_so(monkeypatch):
    """Two levels with round corners, one in the other: the same metal, whether all at once or in turn."""
    low_island = cut(rounded_block((-20, -15, -8), (20, 15, 1), 5), box((-6, -4, -9), (6, 4, -3)))
    work = step(FINISH, _bull(8, 2), POCKET)
    document = plan(raw_box((-30, -25, -12), (30, 25, 0)), setup([work], location=[0, 0, 0]))
    found = inputs(_plate(low_island), document)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (whole,) = cut_all(found, resolved, lambda _: None)
    monkeypatch.setattr(rungs, "MANY_FACES", 1)
    monkeypatch.setattr(carry, "MOST_PAIRS", 10)
    (in_turn,) = cut_all(found, resolved, lambda _: None)
    assert whole.notes == () and "pairs of faces in one step's levels" in in_turn.notes[0]
    assert measure.volume(in_turn.to_be) == pytest.approx(measure.volume(whole.to_be), rel=1e-9)
    assert in_turn.result.known
