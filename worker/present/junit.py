"""The report as JUnit XML: a suite per setup and one for the plan; a case per finding and per rule that found none."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from worker.present import words
from worker.present.words import WHOLE_PLAN, Document

NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 does not allow (section 2.2, Char)."""


def report_junit(document: Document) -> str:
    """The report document as JUnit XML. Errors are failures; warnings and notes pass, with their words as output."""
    root = ElementTree.Element("testsuites", name=_clean(document.get("name", "setup plan")))
    suites = [_suite(document, setup["id"]) for setup in document["setups"]]
    root.extend(suite for suite in (*suites, _suite(document, None)) if len(suite))
    _count(root)
    ElementTree.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(root, encoding="unicode") + "\n"


def _suite(document: Document, setup: str | None) -> ElementTree.Element:
    suite = ElementTree.Element("testsuite", name=setup or WHOLE_PLAN)
    found = words.findings_of(document, setup)
    suite.extend(_finding_case(document, finding) for finding in found)
    suite.extend(_rule_cases(document, setup, {f["code"] for f in found}))
    _count(suite)
    return suite


def _finding_case(document: Document, finding: Document) -> ElementTree.Element:
    step = f"step {finding['workingstep']}" if "workingstep" in finding else ""
    name = " ".join(x for x in (finding["code"], step, *finding.get("features", ())) if x)
    case = _case(finding.get("setup"), name)
    told = (finding["message"], words.measured(finding), words.place(document, finding), words.remedy(finding))
    body = "\n".join(line for line in told if line)
    if finding["level"] == "error":
        failure = ElementTree.SubElement(case, "failure", type=finding["code"], message=_clean(finding["message"]))
        failure.text = _clean(body)
    else:
        ElementTree.SubElement(case, "system-out").text = _clean(f"{finding['level']}: {body}")
    return case


def _rule_cases(document: Document, setup: str | None, found: set[str]) -> Iterator[ElementTree.Element]:
    """The rules without a finding here: passed where they ran, skipped with their reasons where they never did."""
    for rule in document["evidence"].get("rules", ()):
        ran = any(_lies_in(place, setup) for place in rule.get("ran", ()))
        reasons = dict.fromkeys(why for place, why in rule.get("skipped", {}).items() if _lies_in(place, setup))
        if rule["code"] in found or not (ran or reasons):
            continue
        case = _case(setup, rule["code"])
        if not ran:
            ElementTree.SubElement(case, "skipped", message=_clean("; ".join(reasons)))
        yield case


def _lies_in(place: str, setup: str | None) -> bool:
    """Whether a rule's place (plan, SETUP, SETUP/STEP, * for a rule that is off) is this setup (None: whole plan)."""
    return place in (WHOLE_PLAN, words.EVERYWHERE) if setup is None else place == setup or place.startswith(f"{setup}/")


def _case(setup: str | None, name: str) -> ElementTree.Element:
    return ElementTree.Element("testcase", classname=_clean(f"reclamp.{setup or WHOLE_PLAN}"), name=_clean(name))


def _count(element: ElementTree.Element) -> None:
    for attribute, path in (("tests", ".//testcase"), ("failures", ".//failure"), ("skipped", ".//skipped")):
        element.set(attribute, str(len(element.findall(path))))
    element.set("errors", "0")


def _clean(text: str) -> str:
    return NOT_XML.sub("\ufffd", text)
