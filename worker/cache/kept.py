"""Parts of a check by what they depend on: taken from the store where it has them, else computed and kept.

With or without a store a value with solids in it is handed on in the form in which it would be kept and read back: so a
check goes the same way to the last bit whether it finds its values or computes them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from typing import TypeVar

from worker.cache.codec import UnstorableError, decoded, encoded
from worker.cache.store import Store
from worker.kernel.journal import journal, note
from worker.kernel.mesh import to_bytes
from worker.kernel.shape import Body

T = TypeVar("T")


class Kept:
    """The values of one store; ``store`` None computes everything."""

    def __init__(self, store: Store | None = None) -> None:
        self._store = store

    def value(
        self, kind: str, depends: Sequence[bytes | str], compute: Callable[[], T], shared: Sequence[object] = ()
    ) -> T:
        """The value of ``compute``, which depends on nothing but ``depends``; what the kernel noted is noted again.

        ``shared`` are objects within the value that the caller has at hand whenever it asks.
        """
        name = self._name(kind, depends)
        found: tuple[T, tuple[str, ...]] | None = self._found(name, shared)
        if found is None:
            with journal() as notes:
                value = compute()
            found = self._keep(name, (value, tuple(notes)), shared)
        value, remarks = found
        for remark in remarks:
            note(remark)
        return value

    def numbers(self, kind: str, depends: Sequence[bytes | str], compute: Callable[[], T]) -> T:
        """The same for values that hold no solid: they come back as they were, and need no way through the bytes."""
        return compute() if self._store is None else self.value(kind, depends, compute)

    def _name(self, kind: str, depends: Sequence[bytes | str]) -> str:
        if self._store is None:
            return ""
        from worker.cache.code import CODE

        return self._store.name(kind, CODE, *depends)

    def _found(self, name: str, shared: Sequence[object]) -> tuple[T, tuple[str, ...]] | None:
        data = self._store.get(name) if self._store else None
        return None if data is None else _read(data, shared)

    def _keep(self, name: str, value: tuple[T, tuple[str, ...]], shared: Sequence[object]) -> tuple[T, tuple[str, ...]]:
        try:
            data = encoded(value, shared)
        except UnstorableError:
            return value
        again: tuple[T, tuple[str, ...]] | None = _read(data, shared)
        if again is None:
            return value
        if self._store is not None:
            self._store.put(name, data)
        return again


def _read(data: bytes, shared: Sequence[object]) -> tuple[T, tuple[str, ...]] | None:
    try:
        found: tuple[T, tuple[str, ...]] = decoded(data, shared)
    except Exception:  # whatever cannot be read is not there
        return None
    return found


def digest(body: Body) -> str:
    """A body by its exact content."""
    return hashlib.sha256(to_bytes(body)).hexdigest()
