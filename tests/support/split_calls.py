"""Listening in on the splits that a setup's steps are cut by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from unittest import mock

from worker.kernel.shape import Body, faces
from worker.stage import carry


@contextmanager
def split_calls() -> Iterator[list[tuple[int, int]]]:
    """The faces of each split's stock and the number of its tools, in order; the splits are done as ever."""
    asked: list[tuple[int, int]] = []
    split = carry.split

    def listening(
        stock: Body, tools: Sequence[Body], groups: Sequence[Sequence[int]]
    ) -> tuple[tuple[Body, tuple[int, ...]], ...]:
        asked.append((len(faces(stock)), len(tools)))
        return split(stock, tools, groups)

    with mock.patch.object(carry, "split", listening):
        yield asked
