"""The difference of two revisions as plain text."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from worker.present import words
from worker.present.words import Document


def difference_text(difference: Document, units: str) -> str:
    """The result of ``compare_revisions`` for a terminal; lengths are in ``units`` ("mm" or "inch")."""
    told = {"units": units}
    parts = (_verdicts(difference), _features(told, difference), _setups(difference), _findings(difference))
    return "\n".join(line for part in parts for line in part) + "\n"


def _verdicts(difference: Document) -> Iterator[str]:
    verdict = difference["verdict"]
    yield f"old revision: {verdict.get('old', 'the plan cannot be carried out')}"
    yield f"new revision: {verdict.get('new', 'the plan cannot be carried out')}"
    for side, sentence in difference.get("problems", {}).items():
        yield f"  {side}: {sentence}"


def _features(told: Document, difference: Document) -> Iterator[str]:
    features = difference["features"]
    amounts = ", ".join(f"{len(features[kind])} {kind}" for kind in ("changed", "new", "gone"))
    yield f"features: {amounts}, {features['same']} the same"
    for change in features["changed"]:
        yield f"  changed  {change['old']} -> {change['new']}: {'; '.join(_changes(told, change)) or 'shape'}"
    for kind in ("new", "gone"):
        for feature in features[kind]:
            yield f"  {kind:<7}  {feature['id']} at {words.point(told, feature['at'])}"


def _changes(told: Document, change: Document) -> Iterator[str]:
    for key, (old, new) in change["sizes"].items():
        yield f"{key.replace('_', ' ')} {_value(told, old)} -> {_value(told, new)}"
    if "moved" in change:
        yield f"moved by {words.point(told, change['moved'])}"


def _value(told: Document, value: Any) -> str:
    if value is None:
        return "none"
    return words.bare_length(told, value) if isinstance(value, int | float) else str(value)


def _setups(difference: Document) -> Iterator[str]:
    touched = difference["setups"]
    yield f"workingsteps touched: {len(touched) or 'none'}"
    for entry in touched:
        met = dict.fromkeys((*entry.get("old", ()), *entry.get("new", ())))
        yield f"  {entry['setup']}/{entry['workingstep']}: {', '.join(met)}"


def _findings(difference: Document) -> Iterator[str]:
    if "findings" not in difference:
        return
    for kind in ("new", "gone"):
        found = difference["findings"][kind]
        yield f"findings {kind}: {len(found) or 'none'}"
        for finding in found:
            where = "/".join(finding[key] for key in ("setup", "workingstep") if key in finding) or words.WHOLE_PLAN
            yield f"  {finding['level']} {finding['code']} {where}: {finding['message']}"
            if kind == "new" and (mend := words.remedy(finding)):
                yield f"    Mend: {mend}"
