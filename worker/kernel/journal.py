"""What the kernel room had to do out of the ordinary, for a report that says so."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_open: ContextVar[list[str] | None] = ContextVar("kernel journal", default=None)


@contextmanager
def journal() -> Iterator[list[str]]:
    """Collects the notes of everything done inside the block, in order; an inner block keeps its notes to itself."""
    notes: list[str] = []
    token = _open.set(notes)
    try:
        yield notes
    finally:
        _open.reset(token)


def note(text: str) -> None:
    """Add a note to the innermost open journal; nothing where none is open."""
    notes = _open.get()
    if notes is not None:
        notes.append(text)
