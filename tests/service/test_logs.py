from __future__ import annotations

import json
import logging
import sys

import pytest
from fastapi import FastAPI

from service.context import request_id
from service.logs import JsonLines
from service.telemetry import instrument


def _line(**extra: object) -> dict[str, object]:
    record = logging.makeLogRecord(
        {"name": "reclamp.x", "levelname": "INFO", "msg": "job %s", "args": ("ended",), **extra}
    )
    found: dict[str, object] = json.loads(JsonLines().format(record))
    return found


def test_log_line_is_json_with_the_request_that_caused_it() -> None:
    token = request_id.set("req-12345678")
    try:
        line = _line(job="abc", nothing=None)
    finally:
        request_id.reset(token)
    assert (line["event"], line["level"], line["request"], line["job"]) == ("job ended", "info", "req-12345678", "abc")
    assert "nothing" not in line


def test_log_line_stays_one_line_whatever_is_in_it() -> None:
    record = logging.makeLogRecord({"name": "x", "levelname": "INFO", "msg": 'a\nb"\r\x1b[31m', "odd": object()})
    text = JsonLines().format(record)
    assert "\n" not in text
    assert json.loads(text)["event"] == 'a\nb"\r\x1b[31m'


def test_trace_of_an_error_goes_to_the_log() -> None:
    try:
        raise ValueError("inside")
    except ValueError:
        assert "inside" in str(_line(exc_info=sys.exc_info())["trace"])


def test_tracing_is_off_unless_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("OTEL_EXPORTER_OTLP_ENDPOINT", raising=False)
    assert instrument(FastAPI()) is False
