"""The shop's policy: levels and limits of the rules, resolved before any geometry runs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from schemas.finding import CATALOGUE, Level
from schemas.plan import SetupPlan
from schemas.problem import Problem, json_pointer
from schemas.units import units
from worker.checks.api import Limit, Rule
from worker.checks.registry import all_rules

UNCHANGEABLE = "rule.failed"
"""A rule that crashed proves nothing: no policy makes that milder."""


@dataclass(frozen=True)
class Resolved:
    """``levels`` of the codes that the plan changes; ``limits`` of all rules (lengths mm); ``off``: codes not run."""

    levels: Mapping[str, Level]
    limits: Mapping[str, float]
    off: frozenset[str]


def resolve_policy(plan: SetupPlan, rules: tuple[Rule, ...] | None = None) -> Resolved:
    """The plan's policy over the rules' defaults.

    Raises Problem ``plan.invalid`` with the JSON pointer for a code or a limit that nobody has.
    """
    known = all_rules() if rules is None else rules
    codes = set(CATALOGUE) | {r.code for r in known}
    for code in plan.policy.levels:
        _refuse_unknown("levels", code, codes - {UNCHANGEABLE})
    limits = {limit.name: limit for r in known for limit in r.limits}
    for name in plan.policy.limits:
        _refuse_unknown("limits", name, set(limits))
    return Resolved(
        levels={code: level for code, level in plan.policy.levels.items() if level != "off"},
        limits={name: _value(plan, limits[name]) for name in sorted(limits)},
        off=frozenset(code for code, level in plan.policy.levels.items() if level == "off"),
    )


def _value(plan: SetupPlan, limit: Limit) -> float:
    """The plan's value, converted: the plan writes lengths in its own units."""
    stated = plan.policy.limits.get(limit.name)
    if stated is None:
        return limit.default
    if stated < 0:
        raise Problem(
            "plan.invalid",
            "The plan is not valid",
            f"The limit '{limit.name}' is negative.",
            pointer=json_pointer(("policy", "limits", limit.name)),
            remedy="Give zero or more.",
        )
    power = {"mm": 1, "mm2": 2, "mm3": 3}.get(limit.unit, 0)
    return float(stated) * float(units(plan.units).scale) ** power


def _refuse_unknown(kind: str, name: str, known: set[str]) -> None:
    if name in known:
        return
    near = get_close_matches(name, sorted(known), n=3, cutoff=0.4) or sorted(known)
    word = "finding code" if kind == "levels" else "limit"
    raise Problem(
        "plan.invalid",
        "The plan is not valid",
        f"There is no {word} '{name}' that a policy can set.",
        pointer=json_pointer(("policy", kind, name)),
        remedy=f"Use one of: {', '.join(near)}.",
    )
