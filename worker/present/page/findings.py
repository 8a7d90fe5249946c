"""The findings of the page: every one a card, the gravest first; where there are many, buttons that choose a code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from worker.present import words
from worker.present.page.markup import escape, facts, tag, text
from worker.present.words import Document

MANY = 8
"""From so many findings on the page offers to show those of one code alone."""


def findings(document: Document) -> str:
    """Every finding, the gravest first, each with its place and what mends it."""
    order = sorted(enumerate(document["findings"]), key=lambda pair: words.LEVELS.index(pair[1]["level"]))
    cards = [_finding(document, index, finding) for index, finding in order]
    body = tag("ol", *cards, class_="findings") if cards else text("p", "Nothing to mend was found.", class_="none")
    no_model = tag("p", "The model cannot be shown here: ", tag("span", class_="why"), ".", id="no-model", hidden=True)
    kinds = _kinds([finding for _, finding in order])
    return tag("section", text("h2", "Findings"), no_model, kinds, body, id="findings", tabindex=-1)


def _kinds(ordered: Sequence[Document]) -> str:
    """A button for each code, the gravest first, with how often it is told; hidden until the script has run."""
    if len(ordered) < MANY:
        return ""
    levels: dict[str, str] = {}
    for finding in ordered:
        levels.setdefault(finding["code"], finding["level"])
    often = Counter(finding["code"] for finding in ordered)
    buttons = [
        tag("button", tag("i", class_=f"mark {level}", aria_hidden="true"), text("code", code),
            text("span", str(often[code])), type="button", aria_pressed="false", data_kind=code)
        for code, level in levels.items()
    ]  # fmt: skip
    return tag("div", *buttons, class_="kinds", role="group", aria_label="Show one kind alone", hidden=True)


def _finding(document: Document, index: int, finding: Document) -> str:
    level = finding["level"]
    where = [f"Setup {finding['setup']}"] if "setup" in finding else ["Whole plan"]
    where += [f"step {finding['workingstep']}"] if "workingstep" in finding else []
    showable = "at" in finding or finding.get("features")
    button = {"type": "button", "hidden": True, "title": "Show on the model", "data_show_finding": index}
    show = text("button", "Show", **button) if showable else ""
    head = tag(
        "div",
        tag("span", tag("i", class_=f"mark {level}", aria_hidden="true"), escape(level), class_=f"level {level}"),
        text("code", finding["code"]),
        text("span", ", ".join(where), class_="where"),
        show,
        class_="head",
    )
    detail = facts(
        (
            ("Measured", words.measured(finding)),
            ("Features", ", ".join(finding.get("features", ()))),
            ("Place", words.place(document, finding)),
        ),
        class_="detail",
    )
    body = (head, text("p", finding["message"], class_="message"), detail, _mend(finding))
    return tag("li", *body, id=f"finding-{index}", class_=f"finding {level}", data_of_kind=finding["code"])


def _mend(finding: Document) -> str:
    if "remedy" not in finding:
        return ""
    change = words.change_of(finding["remedy"])
    told = text("code", change, class_="change") if change else ""
    return tag("p", text("b", "To mend it"), escape(finding["remedy"]["text"]), told, class_="mend")
