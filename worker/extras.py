"""Files beside the report that a caller may ask for: the page and the setup sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from schemas.problem import Problem
from worker.pipeline import Checked


def make_extras(names: Sequence[str], document: dict[str, Any], checked: Checked) -> dict[str, bytes]:
    """The files of these names; raises Problem for one that nobody makes."""
    makers: dict[str, Callable[[dict[str, Any], Checked], bytes]] = {}
    for name in names:
        if name not in makers:
            raise Problem(
                "out.unknown",
                "No such file is made",
                f"Nothing makes a file '{name}'.",
                pointer=name,
                remedy=f"Known: {', '.join(sorted(makers)) or 'none'}.",
            )
    return {name: makers[name](document, checked) for name in names}
