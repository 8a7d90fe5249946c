"""Whole checks by their inputs: what was answered once is answered again without touching the kernel.

Knows nothing of the kernel, so that any process may load it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence

from worker.bundle import pack, unpack
from worker.cache.store import Place, Store

CODE_PART = "code"
"""Name under which a child tells which code gave its answer."""
Answer = tuple[dict[str, bytes], int]
"""Named bytes, and the largest resident memory of the child that gave them (0 for an answer that was kept)."""


class Results:
    """The answers of one place."""

    def __init__(self, place: Place) -> None:
        self._store = Store(place)

    def answer(self, name: str | None, compute: Callable[[], Answer]) -> Answer:
        """The kept answer of this name, else the computed one, which is then kept; a ``name`` of None is never kept."""
        known = self._kept(name) if name else None
        if known is not None:
            return known, 0
        parts, memory = compute()
        self._keep(name, parts)
        self._store.trim()
        return {key: data for key, data in parts.items() if key != CODE_PART}, memory

    def name(self, part: bytes, plan: bytes, files: Mapping[str, bytes], extras: Sequence[str]) -> str | None:
        """What a check's answer is kept under; None when it depends on a shop's rules whose content cannot be told."""
        from worker.cache.code import CODE
        from worker.cache.plugins import plugged_in

        rules = plugged_in()
        if rules is None:
            return None
        sent = [("part", part), ("plan", plan), *((f"file {name}", data) for name, data in sorted(files.items()))]
        digests = (word for name, data in sent for word in (name, hashlib.sha256(data).digest()))
        return self._store.name("result", CODE, rules, str(len(files)), *digests, *sorted(extras))

    def _kept(self, name: str) -> dict[str, bytes] | None:
        data = self._store.get(name)
        try:
            return None if data is None else unpack(data)
        except (ValueError, TypeError):
            return None

    def _keep(self, name: str | None, parts: Mapping[str, bytes]) -> None:
        """Keep what the very code gave that this process took the name from."""
        from worker.cache.code import CODE

        if name and parts.get(CODE_PART) == CODE.encode():
            self._store.put(name, pack({key: data for key, data in parts.items() if key != CODE_PART}))
