"""The states of a job. ``queued`` and ``running`` can still change; the rest is for ever."""

from __future__ import annotations

from typing import Literal

State = Literal["queued", "running", "done", "failed", "cancelled"]
ACTIVE: frozenset[str] = frozenset({"queued", "running"})
FINAL: frozenset[str] = frozenset({"done", "failed", "cancelled"})
Kind = Literal["check", "features"]
