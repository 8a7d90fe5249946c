"""The forms a report is kept in: suffix, media type and the writer that makes it from the report document.

A writer is named, not imported: the worker loads it when it needs it, the API never does.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

Writer = Callable[[Mapping[str, Any]], bytes]


@dataclass(frozen=True, slots=True)
class Format:
    """One form of the report. ``writer`` is "module:function"; None for the document itself."""

    suffix: str
    media_type: str
    writer: str | None = None


FORMATS: tuple[Format, ...] = (Format("json", "application/json"),)
STAGE_TYPES: Mapping[str, str] = {
    "step": "model/step",
    "glb": "model/gltf-binary",
    "png": "image/png",
    "svg": "image/svg+xml",
}


def load(name: str) -> Writer:
    """The function behind "module:function"."""
    module, _, function = name.partition(":")
    found: Writer = getattr(importlib.import_module(module), function)
    return found


def acceptable(accept: str, formats: tuple[Format, ...] = FORMATS) -> Format | None:
    """The form that an Accept header likes best (RFC 9110 12.5.1), JSON if it does not care, or None."""
    ranked = [(quality, -index, found) for index, found in enumerate(formats) if (quality := _quality(accept, found))]
    return max(ranked, key=lambda r: r[:2])[2] if ranked else None


def _quality(accept: str, wanted: Format) -> float:
    best = (-1, 0.0)
    for item in accept.split(",") if accept.strip() else ["*/*"]:
        range_, *parameters = (word.strip().lower() for word in item.split(";"))
        rank = _specificity(range_, wanted.media_type)
        if rank >= 0:
            best = max(best, (rank, _q(parameters)))
    return best[1]


def _specificity(range_: str, media_type: str) -> int:
    if range_ == media_type:
        return 2
    if range_ == media_type.partition("/")[0] + "/*":
        return 1
    return 0 if range_ == "*/*" else -1


def _q(parameters: list[str]) -> float:
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "q":
            try:
                return min(1.0, max(0.0, float(value)))
            except ValueError:
                return 0.0
    return 1.0
