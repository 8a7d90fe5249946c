"""What the field sweeps by itself, once for each case: faults of the solid's sweep that a test makes leave it as it is.

The steps come to it without the solid's bodies: a field that looked at them would fail here.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from functools import partial
from typing import Any

import pytest

import worker.field

Sweeps = tuple[list[Any], tuple[str, ...]]
_KNOWN: dict[Hashable, Sweeps] = {}


def swept_once(monkeypatch: pytest.MonkeyPatch, case: Hashable) -> None:
    """Let the field sweep a case of one setup along the part's axes once for all tests of a file."""
    monkeypatch.setattr(worker.field, "_solids", partial(_once, worker.field._solids, case))


def _once(right: Callable[..., Sweeps], case: Hashable, stage: Any, *rest: Any) -> Sweeps:
    if case not in _KNOWN:
        bare = tuple(replace(cut, swept=None, removal=None) for cut in stage.cuts)
        _KNOWN[case] = right(replace(stage, cuts=bare), *rest)
    return _KNOWN[case]
