"""The rules in words: a list, a page each, the whole reference; all from the rules' own declarations."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from worker.checks.api import Limit, Rule

WIDTH = 100


def rule_list(rules: Sequence[Rule]) -> str:
    """One line a rule: code, level, what is wrong."""
    width = max(len(one.code) for one in rules)
    return "".join(f"{one.code:<{width}}  {one.level:<7}  {one.title}\n" for one in rules)


def rule_page(one: Rule) -> str:
    """A rule explained: why it matters, its limits with their sources, its reference."""
    lines = [f"{one.code} ({one.level}): {one.title}", ""]
    lines += textwrap.wrap(one.why, WIDTH)
    lines += [""] + [_limit(limit) for limit in one.limits] if one.limits else []
    lines += ["", *textwrap.wrap(f"Reference: {one.reference}", WIDTH)]
    return "\n".join(lines) + "\n"


def rule_reference(rules: Sequence[Rule]) -> str:
    """All rules as Markdown, in catalogue order."""
    parts = ["# Rules\n", "Made from the rules' own declarations by `reclamp rules --markdown`; do not edit.\n"]
    for one in rules:
        parts.append(f"## {one.code}\n\n*{one.level}*: {one.title}\n\n{one.why}\n")
        parts += [f"- {_limit(limit)}\n" for limit in one.limits]
        parts.append(f"\nReference: {one.reference}\n")
    return "\n".join(parts)


def _limit(limit: Limit) -> str:
    unit = "" if limit.unit == "1" else f" {limit.unit}"
    return f"policy.limits.{limit.name}: {limit.default:g}{unit} ({limit.source})"
