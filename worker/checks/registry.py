"""Finding the rules: the built-in ones by walking the families, a shop's own by the entry point group.

A rule that cannot be imported, or a second rule for a code, is an error: a rule never disappears in silence.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from importlib.metadata import entry_points

import worker.checks as checks
from schemas.finding import CATALOGUE
from worker.checks.api import Rule

GROUP = "reclamp.rules"
"""Entry point group of a shop's own rules; each entry point names a ``Rule``."""


class RegistryError(Exception):
    """The set of rules is not usable: a code is declared twice, or an entry point is no rule."""


@cache
def all_rules() -> tuple[Rule, ...]:
    """Built-in and plugged-in rules, in the catalogue's order, the shop's own codes after them by name."""
    return collect((*_built_in(), *_plugged_in()))


def collect(rules: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """The rules in order of their codes. Raises RegistryError when two have the same code."""
    by_code: dict[str, Rule] = {}
    for one in rules:
        if one.code in by_code:
            raise RegistryError(f"two rules have the code '{one.code}'; a rule of your own needs a code of its own")
        by_code[one.code] = one
    _limits_are_unique(rules)
    order = {code: number for number, code in enumerate(CATALOGUE)}
    return tuple(sorted(rules, key=lambda r: (order.get(r.code, len(order)), r.code)))


def _limits_are_unique(rules: tuple[Rule, ...]) -> None:
    owners: dict[str, str] = {}
    for one in rules:
        for limit in one.limits:
            if owners.setdefault(limit.name, one.code) != one.code:
                raise RegistryError(f"limit '{limit.name}' is declared by '{owners[limit.name]}' and '{one.code}'")


def _built_in() -> tuple[Rule, ...]:
    found: list[Rule] = []
    for info in sorted(pkgutil.walk_packages(checks.__path__, checks.__name__ + "."), key=lambda i: i.name):
        depth = info.name.count(".") - checks.__name__.count(".")
        if depth == 2 and not info.name.rpartition(".")[2].startswith("_"):
            found += _rules_of(info.name)
    return tuple(found)


def _rules_of(module_name: str) -> list[Rule]:
    module = importlib.import_module(module_name)
    found = [value for _, value in sorted(vars(module).items()) if isinstance(value, Rule)]
    if len(found) != 1:
        raise RegistryError(f"{module_name} declares {len(found)} rules; a file declares one")
    return found


def _plugged_in() -> tuple[Rule, ...]:
    found = []
    for point in sorted(entry_points(group=GROUP), key=lambda p: p.name):
        value = point.load()
        if not isinstance(value, Rule):
            raise RegistryError(f"entry point '{point.name}' of {GROUP} names no rule: {point.value}")
        found.append(value)
    return tuple(found)
