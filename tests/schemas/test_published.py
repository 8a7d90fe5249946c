"""The published JSON Schemas (2020-12), judged by a general validator: they hold what is sent and what is written."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any, Literal

import jsonschema
import pytest

from schemas.published import DIALECT, json_schema
from service.cli.main import main
from tests.support.documents import document
from tests.support.edits import full_plan

EXAMPLES = Path(__file__).parents[2] / "examples"
Which = Literal["plan", "report"]


def faults(which: Which, value: Any) -> list[str]:
    return [e.json_path for e in jsonschema.Draft202012Validator(json_schema(which)).iter_errors(value)]


@pytest.mark.parametrize("which", ["plan", "report"])
def test_it_is_a_schema_and_the_command_prints_it(which: Which, capsys: pytest.CaptureFixture[str]) -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema(which))
    assert json_schema(which)["$schema"] == DIALECT
    assert main(["schema", which]) == 0
    assert json.loads(capsys.readouterr().out) == json_schema(which)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*/plan.json")), ids=lambda p: p.parent.name)
def test_the_examples_are_what_the_plan_s_schema_says(path: Path) -> None:
    assert faults("plan", json.loads(path.read_text())) == []


def test_a_plan_with_nearly_every_value_is_what_it_says() -> None:
    assert faults("plan", full_plan()) == []


def test_a_report_with_findings_is_what_it_says() -> None:
    assert document()["findings"]
    assert faults("report", document()) == []


@pytest.mark.parametrize(
    ("which", "path", "value"),
    [
        ("plan", ("colour",), "red"),
        ("plan", ("units",), "cm"),
        ("plan", ("tools", 0, "DC"), "6"),
        ("plan", ("tools", 0, "DC"), 0),
        ("plan", ("tools", 0, "type"), "endmil"),
        ("plan", ("setups", 0, "workingsteps", 0, "overcut_length"), -1),
        ("report", ("verdict",), "perhaps"),
        ("report", ("findings", 0, "level"), "fatal"),
        ("report", ("setups", 0, "to_be", "volume"), "much"),
    ],
)
def test_the_schemas_can_refuse(which: Which, path: tuple[str | int, ...], value: Any) -> None:
    sent = copy.deepcopy(full_plan() if which == "plan" else document())
    here: Any = sent
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = value
    assert faults(which, sent)
