"""The rule reference in docs/ is what the rules say of themselves, and every rule says enough."""

from __future__ import annotations

from pathlib import Path

import pytest

from schemas.finding import CATALOGUE
from worker.checks.api import Rule
from worker.checks.describe import rule_list, rule_reference
from worker.checks.registry import all_rules

OWN_OF_THE_RUNNER = {"rule.failed"}


def test_the_reference_is_up_to_date() -> None:
    """Renew it with: reclamp rules --markdown > docs/rules.md"""
    own = tuple(one for one in all_rules() if one.code in CATALOGUE)
    assert Path("docs/rules.md").read_text() == rule_reference(own)


def test_every_code_of_the_catalogue_has_a_rule() -> None:
    assert {one.code for one in all_rules()} >= set(CATALOGUE) - OWN_OF_THE_RUNNER


@pytest.mark.parametrize("one", all_rules(), ids=lambda one: one.code)
def test_a_rule_says_why_and_where_its_limits_come_from(one: Rule) -> None:
    assert len(one.why.split()) >= 5
    assert one.reference
    assert all(limit.source for limit in one.limits)
    assert f"{one.code} " in rule_list((one,))
