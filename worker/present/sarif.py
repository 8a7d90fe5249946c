"""The report as SARIF 2.1.0 (OASIS standard), for code-scanning pages and editors."""

from __future__ import annotations

import json
from typing import Any

from schemas.finding import CATALOGUE
from worker.present import words
from worker.present.baseline import fingerprints
from worker.present.words import WHOLE_PLAN, Document

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def report_sarif(document: Document, plan_uri: str = "plan.json") -> str:
    """The report document as SARIF. ``plan_uri`` says where the plan lies in the reader's project (a relative URI)."""
    log = {"$schema": SCHEMA, "version": "2.1.0", "runs": [_run(document, plan_uri)]}
    return json.dumps(log, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _run(document: Document, plan_uri: str) -> dict[str, Any]:
    rules = _rules(document)
    index = {rule["id"]: i for i, rule in enumerate(rules)}
    marks = fingerprints(document)
    found = zip(document["findings"], marks, strict=True)
    driver = {"name": "Reclamp", "rules": rules}
    if version := document["evidence"]["versions"].get("reclamp"):
        driver["version"] = version
    return {
        "tool": {"driver": driver},
        "artifacts": [{"location": {"uri": plan_uri, "index": 0}, "roles": ["analysisTarget"]}],
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": True}],
        "logicalLocations": _logical(document),
        "results": [_result(document, finding, mark, index, plan_uri) for finding, mark in found],
        "properties": {
            "verdict": document["verdict"],
            "units": document["units"],
            "inputs": document["evidence"]["inputs"],
            "cautions": list(document["cautions"]),
        },
    }


def _rules(document: Document) -> list[dict[str, Any]]:
    """Every code that ran, was skipped or found something, in alphabetical order."""
    codes = {f["code"] for f in document["findings"]} | {r["code"] for r in document["evidence"].get("rules", ())}
    return [_rule(code) for code in sorted(codes)]


def _rule(code: str) -> dict[str, Any]:
    rule: dict[str, Any] = {"id": code, "shortDescription": {"text": words.title(code)}}
    if code in CATALOGUE:
        rule["defaultConfiguration"] = {"level": CATALOGUE[code].level}
    return rule


def _result(document: Document, finding: Document, mark: str, index: dict[str, int], uri: str) -> dict[str, Any]:
    mend = words.remedy(finding)
    text = finding["message"] + (f" Mend: {mend}" if mend else "")
    place = {"artifactLocation": {"uri": uri, "index": 0}, "region": {"startLine": 1}}
    location = {"physicalLocation": place, "logicalLocations": [{"fullyQualifiedName": _where(finding)}]}
    kept = ("features", "measured", "limit", "unit", "at", "remedy")
    return {
        "ruleId": finding["code"],
        "ruleIndex": index[finding["code"]],
        "level": finding["level"],
        "message": {"text": text},
        "locations": [location],
        "partialFingerprints": {"reclampFinding/v1": mark},
        "properties": {key: finding[key] for key in kept if key in finding},
    }


def _where(finding: Document) -> str:
    parts = (finding.get("setup", WHOLE_PLAN), finding.get("workingstep"))
    return "/".join(part for part in parts if part)


def _logical(document: Document) -> list[dict[str, Any]]:
    """Setups and their workingsteps by name; ``kind`` is free text in SARIF (3.33.7)."""
    found: list[dict[str, Any]] = []
    for setup in document["setups"]:
        parent = len(found)
        found.append({"name": setup["id"], "fullyQualifiedName": setup["id"], "kind": "setup"})
        for step in setup["workingsteps"]:
            name = f"{setup['id']}/{step['id']}"
            found.append({"name": step["id"], "fullyQualifiedName": name, "kind": "workingstep", "parentIndex": parent})
    return found
