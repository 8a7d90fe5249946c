"""Stock in the way that a later step of the setup takes: that waiting for it mends the reach is said, and is true."""

from __future__ import annotations

from dataclasses import replace

from schemas.finding import Finding
from tests.support.block import Json, context_of, sound, step_of, tool_of
from worker.checks.run import run_checks
from worker.reach import reach_of

HOLDER = [{"diameter": 40, "length": 30}]


def _plan(first: str, *after: str) -> Json:
    """Steps of the sound plan's first setup in another order, the face milled off the top (2 mm) among them."""
    plan = sound()
    plan["setups"] = plan["setups"][:1]
    plan["setups"][0]["workingsteps"] = [step_of(plan, id) for id in (first, *after)]
    return plan


def _told(plan: Json) -> list[Finding]:
    context = context_of(plan)
    reach = {(s.setup.id, id): found for s in context.stages for id, found in reach_of(s, context.part).items()}
    return [f for f in run_checks(replace(context, reach=reach))[0] if f.code.startswith("reach.")]


def _drilled(*order: str) -> Json:
    """The 8 mm hole is 12 deep below z = 20, its point of 118 degrees 2.40 more: with 15 mm out of the holder this ends
    at 15 - 14.40 = 0.60 above the finished top, 1.40 below the stock's at 22."""
    plan = _plan(*order)
    tool_of(plan, "D8").update(stickout=15, LU=14.5, holder=HOLDER)
    return plan


def test_a_holder_and_a_length_that_would_do_once_the_face_is_milled() -> None:
    told = {f.code: f for f in _told(_drilled("100", "10"))}
    assert set(told) == {"reach.stickout", "reach.length"}
    assert abs((told["reach.stickout"].limit or 0) - 16.40) < 0.02
    for finding in told.values():
        assert finding.remedy and "cut it after step 10, which takes that stock" in finding.remedy.text
    assert _told(_drilled("10", "100")) == []


def test_stock_that_no_later_step_takes_is_not_waited_for() -> None:
    told = _told(_drilled("100", "50"))
    assert {f.code for f in told} == {"reach.stickout", "reach.length"}
    assert not any("after step" in f.remedy.text for f in told if f.remedy)


def test_a_chamfering_cutter_waits_for_what_stands_beside_its_chamfer() -> None:
    """The cone of an 8 mm cutter of 90 degrees is 4 high; 6 mm of stock stand over the top whose edge it breaks."""

    def chamfered(*order: str) -> Json:
        plan = _plan(*order)
        plan["workpiece"]["rawpiece"]["box"]["max"] = [62, 42, 26]
        return plan

    told = _told(chamfered("130", "10"))
    assert [f.code for f in told] == ["reach.shank"]
    assert told[0].remedy and told[0].remedy.text == "Cut it after step 10, which takes the stock in the way."
    assert _told(chamfered("10", "130")) == []
