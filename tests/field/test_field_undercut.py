"""The field's own undercutters against closed forms: T-slot, dovetail, ring groove; what cannot get in takes nothing.

The solid model's stages only bring the plan here: the field must sweep every step by itself.
"""

import math
import sys

import pytest

from examples.shapes import cut, torus
from tests.support.own_sweeps import swept_once
from tests.support.trial import inputs, plan, setup, step
from tests.support.undercut import (
    FINISH,
    RAW,
    SLANT,
    SLOT,
    boss,
    dovetail,
    dovetail_mill,
    keyed,
    mouth,
    side_mill,
    t_mill,
    t_slot,
)
from worker.field import second_opinion
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

solid_sweeps = sys.modules["worker.stage.removal.undercuts"]
BLANK = {"cylinder": {"diameter": 40, "from": [0, 0, -30], "to": [0, 0, 0]}}
BLOCK = 80 * 60 * 40
FOOT = 80 * (18 - 10) * 8
"""T-slot area beside the mouth times its length."""


def _seen(part, document):
    found = inputs(part, document)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    assert opinion.borrowed == ()
    return opinion


def _after_mouth(part, cutter, diameter=10):
    return _seen(part, plan(RAW, setup([mouth(diameter=diameter), step(FINISH, cutter, SLOT)])))


CORNER = 1 - math.pi / 4
T_SLOT = BLOCK - 80 * 10 * 20
DOVETAIL = BLOCK - 80 * 12 * 10 - 80 * 10 * SLANT / 2 * 2


def _left(degrees, high):
    """What stays beside the dovetail's mouth, both sides, to a depth."""
    return 80 * high**2 / math.tan(math.radians(degrees))


def _steep():
    """A flank of 75 degrees touches the wall of 60 with its upper end in both passes, at -6 and at -3: wedges of 4 and
    of 3 high stay beside it, each side, as wide as the slopes differ; above -3 nothing is taken."""
    apart = 1 / math.tan(math.radians(60)) - 1 / math.tan(math.radians(75))
    return 80 * (4**2 + 3**2) * apart + _left(60, 3)


CASES = {
    "T-slot": (t_slot, t_mill(), 10, T_SLOT - FOOT),
    "T-slot, a smaller head": (t_slot, t_mill(DC=14, APMX=3, DN=5, DMM=5), 10, T_SLOT - FOOT),
    "T-slot, edges of 1": (t_slot, t_mill(RE=1), 10, T_SLOT - FOOT + 4 * 80 * CORNER),
    "T-slot, head too wide": (t_slot, t_mill(DC=18.1), 10, T_SLOT),
    "T-slot, head too high": (t_slot, t_mill(APMX=8.1), 10, T_SLOT),
    "T-slot, a lower head with edges of 1": (t_slot, t_mill(RE=1, APMX=5), 10, T_SLOT - FOOT + 4 * 80 * CORNER),
    "dovetail of 60 degrees": (dovetail, dovetail_mill(), 12, DOVETAIL),
    "dovetail, a lower head": (dovetail, dovetail_mill(APMX=4), 12, DOVETAIL),
    "dovetail, a head too wide for its mouth": (dovetail, dovetail_mill(APMX=3.3), 12, DOVETAIL + _left(60, 1.675)),
    "dovetail, a lower head of 75 degrees": (dovetail, dovetail_mill(APMX=4, KAPR=75), 12, DOVETAIL + _steep()),
}
"""Passes of 3.3: at -10, -8.325, -6.65, -4.975; the next one's tip would stand 15.8 wide. Passes of 4: -10, -7."""


@pytest.mark.parametrize("name", CASES)
def test_closed_forms(monkeypatch, name):
    part, cutter, diameter, exact = CASES[name]
    swept_once(monkeypatch, name)
    opinion = _after_mouth(part(), cutter, diameter)
    assert opinion.field_volume == pytest.approx(exact, abs=max(opinion.bound, 1.0))
    assert opinion.agrees and opinion.relative_bound < 1e-4


SMALL = {"DC": 14, "APMX": 3, "DN": 5, "DMM": 5}
STEPS = {
    "allowances": (SMALL, {"allowance_side": 0.3, "allowance_bottom": 0.2}, 80 * (18 - 0.6 - 10) * (8 - 0.3 - 0.2)),
    "into the floor": ({}, {"bottom_z": -21}, FOOT + 80 * 18),
    "above the floor": ({"APMX": 3, "DN": 8, "DMM": 8}, {"bottom_z": -17}, 80 * 8 * 5),
    "into the roof": ({}, {"bottom_z": -19.5}, 80 * 8 * 8),
}


@pytest.mark.parametrize("name", STEPS)
def test_allowances_and_stated_depths(name):
    """Beside the mouth 10 wide; what a head takes of floor and roof (8 wide beside the mouth) counts as well."""
    sizes, keys, exact = STEPS[name]
    works = [mouth(), step(FINISH, t_mill(**sizes), SLOT, **keys)]
    opinion = _seen(t_slot(), plan(RAW, setup(works)))
    assert opinion.agrees and opinion.relative_bound < 1e-4
    assert opinion.field_volume == pytest.approx(T_SLOT - exact, abs=max(opinion.bound, 1.0))


@pytest.mark.parametrize(
    ("part", "works", "exact"),
    [
        (t_slot, [step(FINISH, t_mill(), SLOT), mouth()], T_SLOT - FOOT),
        (t_slot, [step(FINISH, t_mill(), SLOT)], BLOCK - 80 * 18 * 8),
        (dovetail, [step(FINISH, dovetail_mill(), SLOT), mouth(diameter=12)], BLOCK - 80 * 10 * (12 + SLANT)),
    ],
    ids=["T-slot first", "T-slot alone", "dovetail first"],
)
def test_a_head_that_comes_too_early_takes_the_same_by_both(part, works, exact):
    """No straight cutter that follows sweeps all that a head has swept."""
    opinion = _seen(part(), plan(RAW, setup(works)))
    assert opinion.agrees
    assert opinion.field_volume == pytest.approx(exact, abs=max(opinion.bound, 1.0))


@pytest.mark.parametrize(("top", "barred"), [(-12, True), (-16, True), (-20, False)], ids=["roof", "between", "floor"])
def test_jaws_at_both_ends_bar_the_head(top, barred):
    """Jaws before both ends of the slot, as high as its roof or lower: the head has no other way in."""
    jaws = [{"type": "clamp", "box": {"min": [x, -30, -40], "max": [x + 20, 30, top]}} for x in (-60, 40)]
    held = {"type": "fixture_plate", "elements": jaws}
    opinion = _seen(t_slot(), plan(RAW, setup([step(FINISH, t_mill(), SLOT)], workholding=held)))
    assert opinion.agrees
    exact = BLOCK if barred else BLOCK - 80 * 18 * 8
    assert opinion.field_volume == pytest.approx(exact, abs=1.0)


def test_v28_ring_groove():
    """A torus of 20 and 2 cut into the side of a boss of 40: 756.058030 mm3 (Pappus on a half disc)."""
    part = cut(boss(), torus((0, 0, -15), 20, 2))
    opinion = _seen(part, plan(BLANK, setup([step(FINISH, side_mill(RE=2), {"at": [18, 0, -15]})])))
    exact = math.pi * 20**2 * 30 - 756.0580304488575
    assert opinion.agrees
    assert opinion.field_volume == pytest.approx(exact, abs=opinion.bound)
    assert opinion.bound < 0.03 * 756


def test_a_closed_slot_is_entered_through_its_hole_alone():
    """Foot 40 x 18 with round ends, 8 high, entered where a hole of the head's own size stands over it."""
    part = keyed()
    undercut = next(
        f.id for f in inputs(part, plan(RAW, setup([step(FINISH, t_mill(), SLOT)]))).part.features if f.undercut
    )
    opinion = _seen(part, plan(RAW, setup([step(FINISH, t_mill(), undercut)])))
    assert opinion.agrees
    assert opinion.field_volume == pytest.approx(BLOCK - (40 * 18 + math.pi * 9**2) * 8, abs=3.0)


CASES_TOO_NARROW = {
    "T-slot": CASES["T-slot"],
    "T-slot, edges of 1": CASES["T-slot, edges of 1"],
    "dovetail of 60 degrees": CASES["dovetail of 60 degrees"],
    "dovetail, a lower head": CASES["dovetail, a lower head"],
    "dovetail in passes, round edge": (dovetail, dovetail_mill(APMX=4, RE=0.5), 12, None),
}


@pytest.mark.parametrize("name", CASES_TOO_NARROW)
def test_a_head_that_the_solid_sweeps_one_percent_too_narrow_is_told(monkeypatch, name):
    part, cutter, diameter, _ = CASES_TOO_NARROW[name]
    swept_once(monkeypatch, name)
    right = solid_sweeps.grow
    monkeypatch.setattr(solid_sweeps, "grow", lambda region, radius: right(region, 0.99 * radius))
    monkeypatch.setattr(solid_sweeps, "_follows", lambda *rest: False)  # it would end on the part's walls
    found = inputs(part(), plan(RAW, setup([mouth(diameter=diameter), step(FINISH, cutter, SLOT)])))
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    (opinion,) = second_opinion(found.plan, found.part, cut_all(found, resolved, lambda _: None))
    assert not opinion.agrees
