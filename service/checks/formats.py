"""The forms a report is kept in: suffix, media type and the writer that makes it from the report document.

A writer is named, not imported: the worker loads it when it needs it, the API never does.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

Writer = Callable[[Mapping[str, Any]], str | bytes]


@dataclass(frozen=True, slots=True)
class Format:
    """One form of the report. ``writer`` is "module:function" of the document; None when the check brings the file."""

    suffix: str
    media_type: str
    writer: str | None = None


FORMATS: tuple[Format, ...] = (
    Format("json", "application/json"),
    Format("html", "text/html"),
    Format("sarif", "application/sarif+json", "worker.present.sarif:report_sarif"),
    Format("xml", "application/junit+xml", "worker.present.junit:report_junit"),
)
MEDIA_TYPES: Mapping[str, str] = {f"report.{f.suffix}": f.media_type for f in FORMATS} | {
    "setup-sheet.pdf": "application/pdf"
}
STAGE_TYPES: Mapping[str, str] = {
    "step": "model/step",
    "glb": "model/gltf-binary",
    "png": "image/png",
    "svg": "image/svg+xml",
}


def written(format: Format, document: Mapping[str, Any]) -> bytes:
    """The report document in this form, by its writer."""
    module, _, function = (format.writer or "").partition(":")
    writer: Writer = getattr(importlib.import_module(module), function)
    text = writer(document)
    return text.encode() if isinstance(text, str) else text


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
