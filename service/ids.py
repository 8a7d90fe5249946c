"""Names that we make up: sortable by time, never guessable."""

from __future__ import annotations

import secrets
import time


def new_id() -> str:
    """32 hex digits: 12 of the time in ms, 20 of chance. Sorts by time of creation."""
    return f"{int(time.time() * 1000):012x}{secrets.token_hex(10)}"
