"""Structured logs: one JSON object a line on stderr, with the request's id, and nothing that a client sent."""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime
from typing import Any

from service.context import request_id

_STANDARD = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "color_message", "taskName"}


class JsonLines(logging.Formatter):
    """A log record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """The line."""
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": record.getMessage(),
        }
        if (identity := request_id.get()) is not None:
            line["request"] = identity
        extra = {k: v for k, v in vars(record).items() if k not in _STANDARD and v is not None}
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line | extra, default=str, ensure_ascii=False)


def configure(level: str) -> None:
    """Log to stderr as JSON lines."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)
    for noisy in ("httpx", "httpcore", "celery", "kombu", "amqp", "alembic", "uvicorn.access"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
