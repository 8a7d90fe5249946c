"""Whole plans with drawn sizes: more stick-out, a slimmer holder or less workholding never add a reach finding.

The plate's own plan, from JSON to findings; what stands in the way is drawn too: in the cut, beside it, over it or
clear of it. A step that workholding keeps out altogether goes nowhere: of it nothing is told but what covers it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.support.block import Json, context_of
from tests.support.plate import on_plate, plate
from worker.checks.access.covered import covered
from worker.checks.cut.workholding import workholding
from worker.checks.reach.length import length
from worker.checks.reach.shank import shank
from worker.checks.reach.stickout import stickout
from worker.checks.run import run_checks
from worker.reach import reach_of

RULES = (stickout, shank, length, covered, workholding)
FEW = settings(
    max_examples=4,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),  # no shrinking: each case is whole checks
    suppress_health_check=list(HealthCheck),
)
Told = frozenset[tuple[str, str | None, str | None]]


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    return st.integers(round(low * 10), round(high * 10)).map(lambda n: n / 10)


def told(plan: Json) -> Told:
    """Code, setup and step of every finding about reach and about what stands in the way."""
    context = context_of(plan, plate())
    reach = {(s.setup.id, id): found for s in context.stages for id, found in reach_of(s, context.part).items()}
    return frozenset((f.code, f.setup, f.workingstep) for f in run_checks(replace(context, reach=reach), RULES)[0])


def plan_of(stickout: float, holder: float, shank: float, edge: float, clamp: Json | None = None) -> Json:
    """Drill and end mill in holders of these sizes; the end mill's shank begins right above its edge."""
    plan = on_plate()
    drill, mill = plan["tools"]
    sections = [{"diameter": holder, "length": 20}, {"diameter": holder + 12, "length": 30}]
    drill |= {"stickout": stickout + 10, "holder": sections}
    mill |= {"stickout": stickout, "holder": sections, "DMM": shank, "LU": edge, "APMX": edge}
    plan["setups"][0]["workholding"]["elements"] += [clamp] if clamp else []
    return plan


def clamps() -> st.SearchStrategy[Json]:
    """Blocks on, in, over and under the plate (80 x 50 x 10, its top at 0), some clear of all cuts."""
    corners = st.tuples(tenths(-20, 75), tenths(-20, 45), st.sampled_from([-12.0, 0.0, 0.5, 3.0]))
    sizes = st.tuples(tenths(3, 20), tenths(3, 15), tenths(1, 25))

    def body(at: tuple[float, float, float], size: tuple[float, float, float]) -> Json:
        high = [low + more for low, more in zip(at, size, strict=True)]
        return {"type": "clamp", "name": "one more", "box": {"min": list(at), "max": high}}

    return st.builds(body, corners, sizes)


sizes = {"stickout": tenths(4, 30), "holder": tenths(8, 50), "shank": tenths(6, 12), "edge": tenths(2, 8)}


@cache
def _told_of(stickout: float, holder: float, shank: float, edge: float) -> Told:
    return told(plan_of(stickout, holder, shank, edge))


def _every_code() -> Iterator[str]:
    """Codes that the drawn range can earn at all: without them the properties would hold of nothing."""
    over = {"type": "clamp", "name": "over", "box": {"min": [30, 15, 3], "max": [50, 35, 12]}}
    inside = {"type": "clamp", "name": "inside", "box": {"min": [15, 20, -12], "max": [22, 30, 12]}}
    for plan in (plan_of(4, 40, 12, 2), plan_of(30, 20, 8, 2, over), plan_of(30, 20, 8, 8, inside)):
        yield from (code for code, _, _ in told(plan))


def test_the_drawn_plans_can_earn_findings_of_several_codes() -> None:
    assert set(_every_code()) == {code.code for code in RULES}
    assert _told_of(30.0, 10.0, 8.0, 8.0) == frozenset()


@FEW
@given(**sizes, more=tenths(0, 20))
def test_a_longer_stickout_adds_no_finding(
    stickout: float, holder: float, shank: float, edge: float, more: float
) -> None:
    assert _told_of(stickout + more, holder, shank, edge) <= _told_of(stickout, holder, shank, edge)


@FEW
@given(**sizes, more=tenths(0, 25))
def test_a_larger_holder_takes_no_finding_away(
    stickout: float, holder: float, shank: float, edge: float, more: float
) -> None:
    assert _told_of(stickout, holder, shank, edge) <= _told_of(stickout, holder + more, shank, edge)


@FEW
@given(**sizes, clamp=clamps())
def test_more_workholding_takes_no_finding_away(
    stickout: float, holder: float, shank: float, edge: float, clamp: Json
) -> None:
    held = told(plan_of(stickout, holder, shank, edge, clamp))
    covered = {(setup, step) for code, setup, step in held if code == "access.covered"}
    gone = _told_of(stickout, holder, shank, edge) - held
    assert {(setup, step) for _, setup, step in gone} <= covered


def test_a_clamp_over_the_whole_pocket_covers_it_and_a_larger_one_still_does() -> None:
    """The pocket is 20 x 14 in the middle of the plate: from half of it to far beyond, always the same finding."""
    for half in (5, 10, 11, 25):
        over = {"type": "clamp", "name": "over", "box": {"min": [40 - half, 15, 0], "max": [40 + half, 35, 12]}}
        assert ("access.covered", "S1", "20") in told(plan_of(30, 10, 8, 8, over)), half
