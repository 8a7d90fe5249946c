"""What hangs together: things joined by pairs, each named by the first of its group."""

from __future__ import annotations

from collections.abc import Iterable


def firsts(count: int, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """For each of ``count`` things the lowest number among all that it is joined to, over any number of pairs."""
    parent = list(range(count))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for a, b in pairs:
        low, high = sorted((root(a), root(b)))
        parent[high] = low
    return [root(i) for i in range(count)]


def groups(count: int, pairs: Iterable[tuple[int, int]]) -> list[list[int]]:
    """The groups of what hangs together, by their first, each in rising order."""
    found: dict[int, list[int]] = {}
    for i, first in enumerate(firsts(count, pairs)):
        found.setdefault(first, []).append(i)
    return list(found.values())
