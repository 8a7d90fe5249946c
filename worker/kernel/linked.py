"""What hangs together: things joined by pairs, each named by the first of its group."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray


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


def connected(count: int, one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.int64]:
    """Numbers from 0 of the connected groups of ``count`` things, by the first of each; pairs as two arrays (n,)."""
    _, found = np.unique(firsts(count, zip(one.tolist(), other.tolist(), strict=True)), return_inverse=True)
    return np.asarray(found.reshape(-1), np.int64)
