"""The examples, checked whole: sound plans pass, and every stage is the solid that was worked out by hand."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import jsonschema
import pytest

from examples import make_parts
from examples.shapes import cut, volume
from schemas.published import json_schema
from schemas.report import report_document
from tests.support import by_hand
from tests.support.examples import checked, names, read_solid, stage_solid

REL = 1e-6
NAMES = names()


def test_there_is_a_hand_made_stage_for_every_setup() -> None:
    assert sorted(by_hand.STAGES) == NAMES
    for name in NAMES:
        setups = json.loads((Path(make_parts.HERE) / name / "plan.json").read_text())["setups"]
        assert len(by_hand.STAGES[name]()) == len(setups)


@pytest.mark.parametrize("name", NAMES)
def test_the_part_file_is_what_its_script_makes(name: str) -> None:
    make, _ = make_parts.PARTS[f"{name}/part"]
    path = Path(make_parts.HERE) / name / "part.step"
    assert volume(read_solid(path.read_bytes())) == pytest.approx(volume(make()), rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_a_sound_plan_passes(name: str) -> None:
    report = checked(name).report
    told = [(f.code, f.level, f.setup, f.workingstep, f.message) for f in report.findings if f.level != "note"]
    assert told == []
    assert report.verdict == "pass"


@pytest.mark.parametrize("name", NAMES)
def test_every_feature_is_finished_somewhere(name: str) -> None:
    report = checked(name).report
    assert [f.id for f in report.features if f.finished_in is None and f.class_ != "boss"] == []
    assert report.residual.volume == pytest.approx(0, abs=1e-3)


@cache
def _hand(name: str) -> tuple[float, ...]:
    return tuple(volume(s) for s in by_hand.STAGES[name]())


@pytest.mark.parametrize("name", NAMES)
def test_stage_volumes_are_those_worked_out_by_hand(name: str) -> None:
    reported = [s.to_be.volume for s in checked(name).report.setups]
    written = [volume(stage_solid(name, s.id)) for s in checked(name).report.setups]
    assert reported == pytest.approx(_hand(name), rel=REL)
    assert written == pytest.approx(_hand(name), rel=REL)


@pytest.mark.parametrize("name", NAMES)
def test_the_last_stage_is_the_part(name: str) -> None:
    make, _ = make_parts.PARTS[f"{name}/part"]
    assert _hand(name)[-1] == pytest.approx(volume(make()), rel=1e-9)
    assert checked(name).report.setups[-1].to_be.volume == pytest.approx(volume(make()), rel=REL)


@pytest.mark.parametrize("name", NAMES)
def test_stages_are_the_hand_made_solids_and_not_only_as_large(name: str) -> None:
    for setup, hand in zip(checked(name).report.setups, by_hand.STAGES[name](), strict=True):
        solid = stage_solid(name, setup.id)
        assert volume(cut(solid, hand)) == pytest.approx(0, abs=1e-3)
        assert volume(cut(hand, solid)) == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_comes_loose_and_every_stage_is_carried(name: str) -> None:
    report = checked(name).report
    assert all(s.to_be.solids == 1 and not s.loose for s in report.setups)
    assert all(b.carried for b in report.evidence.balance[1:])
    for before, after in zip(report.setups, report.setups[1:], strict=False):
        assert after.as_is.volume == before.to_be.volume


@pytest.mark.parametrize("name", NAMES)
def test_the_report_is_what_its_published_schema_says(name: str) -> None:
    jsonschema.Draft202012Validator(json_schema("report")).validate(report_document(checked(name).report))
