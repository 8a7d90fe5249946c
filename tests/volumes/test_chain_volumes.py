"""The two-setup chain V25/V25s, stage by stage, and what has to hold between stages of any plan (relative 1e-6)."""

from __future__ import annotations

import json

import pytest

from examples.shapes import common, volume
from tests.support.chain import chain_part, chain_plan
from tests.support.trial import Json, removals, stages_of, step_bytes, taken, to_be
from worker.pipeline import check_plan

REL = 1e-6


def test_v25_two_setups_stage_by_stage() -> None:
    # V25s 226304 / 212992 / 177313.9028 / 164001.9028 / 159896.4695: computed stage by stage
    first, second = stages_of(chain_part(), chain_plan())
    assert volume(first.as_is.wrapped) == pytest.approx(226304, rel=REL)
    assert volume(first.stock_before(1).wrapped) == pytest.approx(212992, rel=REL)
    assert to_be(first) == pytest.approx(177313.9028, rel=REL)
    assert volume(second.as_is.wrapped) == pytest.approx(177313.9028, rel=REL)
    assert volume(second.stock_before(1).wrapped) == pytest.approx(164001.9028, rel=REL)
    assert to_be(second) == pytest.approx(159896.4695, rel=REL)
    assert volume(chain_part()) == pytest.approx(159896.4695, rel=REL)


def test_v25_in_the_report() -> None:
    checked = check_plan(step_bytes(chain_part()), json.dumps(chain_plan()).encode(), {})
    assert [s.to_be.volume for s in checked.report.setups] == pytest.approx([177313.9028, 159896.4695], rel=REL)
    assert [s.as_is.volume for s in checked.report.setups] == pytest.approx([226304, 177313.9028], rel=REL)
    assert all(abs(b.relative_error) < REL and b.setup for b in checked.report.evidence.balance)
    assert checked.report.residual.volume == pytest.approx(0, abs=1e-3)


def test_carried_means_the_very_solid() -> None:
    first, second = stages_of(chain_part(), chain_plan())
    assert second.as_is is first.to_be


def test_balance_of_every_stage() -> None:
    # as_is - removal = to_be: the removals of a stage do not overlap
    for stage in stages_of(chain_part(), chain_plan()):
        assert taken(stage) == pytest.approx(sum(removals(stage)), rel=REL)
        assert abs(stage.balance.error) < REL * stage.balance.as_is


def test_order_of_steps_that_do_not_meet_is_free() -> None:
    document = chain_plan()
    steps = document["setups"][1]["workingsteps"]
    first = to_be(stages_of(chain_part(), document)[1])
    document["setups"][1]["workingsteps"] = steps[::-1]
    assert to_be(stages_of(chain_part(), document)[1]) == pytest.approx(first, rel=1e-9)


def test_no_stage_enters_the_part() -> None:
    part = chain_part()
    for stage in stages_of(part, chain_plan()):
        assert volume(common(part, stage.to_be.wrapped)) == pytest.approx(volume(part), rel=REL)


def test_the_same_chain_in_inch_leaves_the_same_metal() -> None:
    # 1 in = 25.4 mm exactly
    document = json.loads(json.dumps(chain_plan()), parse_int=float)
    inch = _scaled(document, 1 / 25.4) | {"units": "inch"}
    stages = stages_of(step_bytes(chain_part(), "INCH"), inch)
    assert [to_be(s) for s in stages] == pytest.approx([177313.9028, 159896.4695], rel=REL)


LENGTHS = {"DC", "APMX", "stickout", "min", "max", "diameter", "overcut_length"}


def _scaled(value: object, factor: float, key: str = "") -> Json:
    if isinstance(value, dict):
        return {k: _scaled(v, factor, k) for k, v in value.items()}
    if isinstance(value, list):
        return [_scaled(v, factor, key) for v in value]  # type: ignore[return-value]
    if isinstance(value, float):
        if key in ("plan_version", "count"):
            return int(value)  # type: ignore[return-value]
        return value * factor if key in LENGTHS else value  # type: ignore[return-value]
    return value  # type: ignore[return-value]
