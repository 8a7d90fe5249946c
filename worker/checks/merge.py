"""One fault at all holes of a pattern is one finding, not one a hole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from worker.checks.api import Draft

DIGITS = 4
"""Measures that agree to this many decimals are the same fault (mm: a tenth of a micrometre)."""


def merged(drafts: Sequence[Draft]) -> list[Draft]:
    """Drafts of one rule with the same step, measure and limit as one: the first speaks, the others are named."""
    groups: dict[tuple[object, ...], list[Draft]] = {}
    for number, draft in enumerate(drafts):
        groups.setdefault(_key(draft, number), []).append(draft)
    return [_one(group) for group in groups.values()]


def _key(draft: Draft, number: int) -> tuple[object, ...]:
    """Drafts of other setups or steps, on other kinds of features, or without any, stand for themselves."""
    if not draft.features:
        return (number,)
    place = (draft.stage.setup.id if draft.stage else None, draft.cut.index if draft.cut else None)
    kinds = tuple(id.rpartition("-")[0] for id in draft.features)
    remedy = draft.remedy.pointer if draft.remedy else None
    return (*place, kinds, _round(draft.measured), _round(draft.limit), remedy, _wordless(draft))


def _wordless(draft: Draft) -> str:
    """The message without the names of its features."""
    text = draft.message
    for name in sorted(draft.features, key=len, reverse=True):
        text = text.replace(name, "*")
    return text


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)


def _one(group: Sequence[Draft]) -> Draft:
    first = group[0]
    others = list(dict.fromkeys(id for d in group[1:] for id in d.features if id not in first.features))
    if len(group) == 1:
        return first
    tail = f" Likewise {', '.join(others)}." if others else f" In {len(group)} places."
    return replace(first, message=first.message + tail, features=(*first.features, *others))
