"""Named byte strings as one byte string: how a job and its result cross the process border without pickling."""

from __future__ import annotations

import json
from collections.abc import Mapping

_HEAD = 8


def pack(parts: Mapping[str, bytes]) -> bytes:
    """The parts behind a header that lists their names and sizes."""
    header = json.dumps([[name, len(data)] for name, data in parts.items()]).encode()
    return len(header).to_bytes(_HEAD, "big") + header + b"".join(parts.values())


def unpack(data: bytes) -> dict[str, bytes]:
    """The parts, in order; raises ValueError when the sizes do not add up."""
    start = _HEAD + int.from_bytes(data[:_HEAD], "big")
    found: dict[str, bytes] = {}
    for name, size in json.loads(data[_HEAD:start]):
        found[name] = data[start : start + size]
        start += size
    if start != len(data):
        raise ValueError("a bundle is cut short")
    return found
