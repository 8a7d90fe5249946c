"""What OpenAPI cannot read from the signatures: the form, and the files."""

from __future__ import annotations

from typing import Any

from service.checks.formats import FORMATS, STAGE_TYPES
from service.checks.schemas import CheckRequest

_FORM: dict[str, Any] = {
    "type": "object",
    "required": ["part", "plan"],
    "properties": {
        "part": {"type": "string", "format": "binary", "description": "the finished part, ISO 10303-21"},
        "plan": {"type": "string", "description": "the setup plan as JSON, see /schemas/plan"},
        "files": {
            "type": "array",
            "items": {"type": "string", "format": "binary"},
            "description": "further STEP files; each file's name is the plan's name for it",
        },
    },
}
CREATE: dict[str, Any] = {
    "openapi_extra": {
        "requestBody": {
            "required": True,
            "content": {
                "multipart/form-data": {"schema": _FORM},
                "application/json": {"schema": CheckRequest.model_json_schema()},
            },
        }
    }
}


def _binary(*types: str) -> dict[str, Any]:
    return {kind: {"schema": {"type": "string", "format": "binary"}} for kind in types}


def _report() -> dict[str, Any]:
    content: dict[str, Any] = _binary(*(f.media_type for f in FORMATS if f.suffix != "json"))
    content["application/json"] = {"schema": {"type": "object", "description": "see /schemas/report"}}
    return content


def _file(description: str, content: dict[str, Any]) -> dict[str, Any]:
    answers = {"200": {"description": description, "content": content}, "304": {"description": "The client has it"}}
    return {"openapi_extra": {"responses": answers}}


REPORT: dict[str, Any] = _file("The report", _report())
STAGE: dict[str, Any] = _file("The stock after the setup", _binary(*STAGE_TYPES.values()))
SHEET: dict[str, Any] = _file("The setup sheet", _binary("application/pdf"))
