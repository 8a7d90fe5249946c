"""Findings that are new since an earlier report: a pipeline then fails on these alone."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from schemas.problem import Problem
from worker.present.words import LEVELS, Document


def fingerprints(document: Document) -> list[str]:
    """One fingerprint a finding, in the report's order.

    It is made of code, setup, workingstep and features, and of a running number where several findings share
    these: measured values, places and wording may change without making a finding a new one.
    """
    seen: dict[str, int] = defaultdict(int)
    result = []
    for finding in document["findings"]:
        key = _key(finding)
        seen[key] += 1
        result.append(hashlib.sha256(f"{key}#{seen[key]}".encode()).hexdigest()[:32])
    return result


def new_findings(document: Document, baseline: Document) -> list[dict[str, Any]]:
    """The findings that the baseline's report has not, or had at a milder level."""
    known = dict(zip(fingerprints(baseline), (f["level"] for f in baseline["findings"]), strict=True))
    found = zip(fingerprints(document), document["findings"], strict=True)
    return [finding for mark, finding in found if _is_new(finding, known.get(mark))]


def read_baseline(data: bytes, name: str) -> dict[str, Any]:
    """An earlier ``report.json``. Raises Problem ``baseline.invalid`` when the bytes are no such report."""
    try:
        document = json.loads(data)
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise _invalid(name, "it is not JSON") from None
    if not isinstance(document, dict) or document.get("report_version") != 1:
        raise _invalid(name, "it has no report_version 1")
    findings = document.get("findings")
    if not isinstance(findings, list) or not all(_is_finding(f) for f in findings):
        raise _invalid(name, "its findings cannot be read")
    return document


def _key(finding: Document) -> str:
    parts = (finding["code"], finding.get("setup", ""), finding.get("workingstep", ""))
    return "|".join((*parts, *sorted(finding.get("features", ()))))


def _is_new(finding: Mapping[str, Any], known_level: str | None) -> bool:
    return known_level is None or LEVELS.index(finding["level"]) < LEVELS.index(known_level)


def _is_finding(value: object) -> bool:
    return isinstance(value, dict) and isinstance(value.get("code"), str) and value.get("level") in LEVELS


def _invalid(name: str, why: str) -> Problem:
    return Problem(
        "baseline.invalid",
        "The baseline is not a report",
        f"The baseline '{name}' cannot be used: {why}.",
        pointer="/",
        remedy="Give the report.json that an earlier check wrote.",
    )
