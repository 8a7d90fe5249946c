"""The Prefer header of RFC 7240, as far as we honour it."""

from __future__ import annotations

import re

_WAIT = re.compile(r'(?:^|[,;])\s*wait\s*=\s*"?(\d{1,6})"?\s*(?=$|[,;])', re.IGNORECASE)


def wait_seconds(prefer: str | None, most: float) -> float | None:
    """Seconds that the client would wait, at most ``most``; None when it did not say."""
    found = _WAIT.search(prefer or "")
    return min(float(found[1]), most) if found else None
