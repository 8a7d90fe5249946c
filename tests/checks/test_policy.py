"""Levels and limits of the shop, rules that crash, rules of the shop's own."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from schemas.plan import SetupPlan
from schemas.problem import Problem
from tests.support.block import context_of, judged, sound, step_of, tool_of
from worker.checks.api import Context, Draft, Limit, Rule, Skip, rule
from worker.checks.policy import resolve_policy
from worker.checks.registry import RegistryError, all_rules, collect
from worker.checks.run import run_checks
from worker.stage.model import Stage


def _plan(**policy: object) -> SetupPlan:
    return SetupPlan.model_validate({**sound(), "policy": policy})


def _own(code: str = "shop.own", limits: tuple[Limit, ...] = ()) -> Rule:
    @rule(code, scope="stage", why="w", reference="r", title="t", level="note", limits=limits)
    def check(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
        yield Draft(message=f"seen {stage.setup.id}")

    return check


def test_a_level_is_changed_by_the_policy() -> None:
    plan = sound()
    tool_of(plan, "D8")["SIG"] = 140
    plan["policy"] = {"levels": {"fit.bottom": "error"}}
    assert [f.level for f in judged(plan)[0] if f.code == "fit.bottom"] == ["error"]


def test_a_rule_that_is_off_finds_nothing_and_the_report_says_so() -> None:
    plan = sound()
    tool_of(plan, "D8")["SIG"] = 140
    plan["policy"] = {"levels": {"fit.bottom": "off"}}
    findings, runs = judged(plan)
    run = next(r for r in runs if r.code == "fit.bottom")
    assert "fit.bottom" not in {f.code for f in findings}
    assert run.ran == () and "*" in run.skipped


@pytest.mark.parametrize(
    ("policy", "pointer"),
    [
        ({"levels": {"fit.botom": "error"}}, "/policy/levels/fit.botom"),
        ({"levels": {"rule.failed": "note"}}, "/policy/levels/rule.failed"),
        ({"limits": {"least_grip": 4.0}}, "/policy/limits/least_grip"),
        ({"limits": {"least_grip_depth": -1.0}}, "/policy/limits/least_grip_depth"),
    ],
)
def test_what_nobody_has_is_refused_with_its_pointer(policy: dict[str, object], pointer: str) -> None:
    with pytest.raises(Problem) as caught:
        resolve_policy(_plan(**policy))
    assert caught.value.pointer == pointer
    assert caught.value.remedy


def test_limits_are_in_the_units_of_the_plan() -> None:
    inch = _plan(limits={"least_grip_depth": 0.25}).model_copy(update={"units": "inch"})
    assert resolve_policy(inch).limits["least_grip_depth"] == 6.35
    assert resolve_policy(_plan()).limits["least_grip_depth"] == 3.0


def test_a_limit_decides() -> None:
    plan = sound()
    assert "hold.grip" not in {f.code for f in judged(plan)[0]}
    plan["policy"] = {"limits": {"least_grip_depth": 6.5}}
    assert {(f.code, f.setup) for f in judged(plan)[0] if f.code == "hold.grip"} == {("hold.grip", "S1")}


def test_a_vise_too_small_hides_no_grip_too_short() -> None:
    plan = sound()
    plan["policy"] = {"limits": {"least_grip_depth": 6.5}}
    plan["setups"][0]["workholding"]["max_opening"] = 30
    told = {f.code for f in judged(plan)[0] if f.setup == "S1"}
    assert {"hold.opening", "hold.grip"} <= told


def test_a_rule_that_crashes_is_an_error_finding_and_the_others_run() -> None:
    @rule("shop.broken", scope="stage", why="w", reference="r", title="t", level="note")
    def broken(context: Context, stage: Stage) -> Iterator[Draft | Skip]:
        yield Draft(message="never told")
        raise ZeroDivisionError("by hand")

    findings, runs = run_checks(context_of(sound()), (broken, _own()))
    failed = [f for f in findings if f.code == "rule.failed"]
    assert [(f.level, f.setup) for f in failed] == [("error", "S1"), ("error", "S2")]
    assert all("shop.broken" in f.message for f in failed)
    assert "never told" not in {f.message for f in findings}
    assert {f.message for f in findings if f.code == "shop.own"} == {"seen S1", "seen S2"}
    assert next(r for r in runs if r.code == "shop.broken").ran == ()


def test_a_rule_that_does_not_apply_is_listed_with_its_reason() -> None:
    _, runs = judged(sound())
    assert next(r for r in runs if r.code == "machine.travel").skipped == {
        "S1": "the plan states no travel of the machine",
        "S2": "the plan states no travel of the machine",
    }
    assert next(r for r in runs if r.code == "hold.grip").ran == ("S1", "S2")


def test_two_rules_of_one_code_are_refused() -> None:
    with pytest.raises(RegistryError, match=r"shop\.own"):
        collect((_own(), _own()))


def test_two_rules_may_not_share_a_limit() -> None:
    limit = Limit("same", 1.0, "mm", "test")
    with pytest.raises(RegistryError, match="same"):
        collect((_own("shop.a", (limit,)), _own("shop.b", (limit,))))


def test_a_code_outside_the_catalogue_must_state_title_and_level() -> None:
    with pytest.raises(ValueError, match=r"shop\.x"):
        rule("shop.x", scope="plan", why="w", reference="r")


def test_every_rule_says_why_and_every_limit_names_its_source() -> None:
    for one in all_rules():
        assert len(one.why) > 20 and one.reference
        assert all(limit.source and limit.default >= 0 for limit in one.limits)


def test_findings_come_in_the_order_of_machining_and_twice_the_same() -> None:
    plan = sound()
    tool_of(plan, "D8")["SIG"] = 140
    tool_of(plan, "D66")["DC"] = 6.8
    step_of(plan, "40")["bottom_z"] = -8.5
    first, second = judged(plan)[0], judged(plan)[0]
    assert first == second
    assert [f.workingstep for f in first if f.setup == "S1"] == ["40", "70", "100"]
