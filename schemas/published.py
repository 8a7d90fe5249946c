"""The JSON Schemas as they are published: by ``reclamp schema`` and by the service."""

from __future__ import annotations

from typing import Any, Literal

from schemas.plan import SetupPlan
from schemas.report import Report

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(which: Literal["plan", "report"]) -> dict[str, Any]:
    """The schema (JSON Schema 2020-12) of the plan as it is sent, or of the report as it is written."""
    if which == "plan":
        body = SetupPlan.model_json_schema(by_alias=True, mode="validation")
    else:
        body = Report.model_json_schema(by_alias=True, mode="serialization")
    return {"$schema": DIALECT, "$id": f"urn:reclamp:schema:{which}:1", **body}
