"""The job as callers see it: the same bytes from any process, Problems passed through, bundles whole."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.problem import Problem
from worker.bundle import pack, unpack
from worker.job import describe_rules, run_check, run_features

EXAMPLE = Path("examples/sensor_plate")
PART, PLAN = (EXAMPLE / "part.step").read_bytes(), (EXAMPLE / "plan.json").read_bytes()


def test_two_workers_write_the_same_bytes() -> None:
    """Determinism: each check has a process of its own."""
    first, second = run_check(PART, PLAN, {}), run_check(PART, PLAN, {})
    assert first.report == second.report
    assert first.stages == second.stages
    assert set(first.stages) == {"S1", "S2"}


def test_progress_names_the_setups() -> None:
    seen: list[str | None] = []
    run_check(PART, PLAN, {}, on_progress=lambda message: seen.append(message["setup"]))
    assert [s for s in seen if s] == ["S1", "S2"]


def test_a_problem_crosses_the_border_whole() -> None:
    plan = json.loads(PLAN)
    plan["setups"][0]["workingsteps"][0]["features"] = ["closed_pocket-none"]
    with pytest.raises(Problem) as caught:
        run_check(PART, json.dumps(plan).encode(), {})
    assert caught.value.type == "plan.selector"
    assert caught.value.pointer == "/setups/0/workingsteps/0/features/0"
    assert "Nearest" in caught.value.remedy


@pytest.mark.parametrize(("files", "type"), [({"extra": b"ISO-10303-21;"}, "plan.file-unused")])
def test_files_that_nobody_asked_for_are_refused(files: dict[str, bytes], type: str) -> None:
    with pytest.raises(Problem) as caught:
        run_check(PART, PLAN, files)
    assert caught.value.type == type


def test_features_in_inch_are_the_same_part() -> None:
    mm = json.loads(run_features(PART, "mm").document)
    inch = json.loads(run_features(PART, "inch").document)
    assert [f["id"] for f in mm["features"]] == [f["id"] for f in inch["features"]]
    assert mm["volume"] / inch["volume"] == pytest.approx(25.4**3, rel=1e-8)  # 1 in = 25.4 mm exactly


def test_a_rule_is_explained_and_an_unknown_one_refused() -> None:
    page = describe_rules("hold.grip")
    assert page.startswith("hold.grip (error)")
    assert "policy.limits." in page
    with pytest.raises(Problem, match=r"hold\.gripp"):
        describe_rules("hold.gripp")


@given(st.dictionaries(st.text(max_size=8), st.binary(max_size=64), max_size=5))
def test_a_bundle_comes_back_as_it_was(parts: dict[str, bytes]) -> None:
    assert unpack(pack(parts)) == parts


def test_a_bundle_that_is_cut_short_is_noticed() -> None:
    with pytest.raises(ValueError, match="cut short"):
        unpack(pack({"a": b"12345"})[:-1])
