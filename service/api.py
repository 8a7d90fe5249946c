"""The API process: ``python -m service.api --host HOST --port PORT``."""

from __future__ import annotations

import argparse
import logging
import tempfile
from pathlib import Path

import uvicorn

from service.app import create_app
from service.logs import configure
from service.settings import Settings


def _spool(settings: Settings) -> Path:
    """Where uploads wait: beside what is stored, not in a /tmp that may be memory."""
    folder = settings.data.resolve() / "spool"
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder


def main() -> None:
    """Serve until SIGTERM; open event streams are cut, requests under way are answered."""
    parser = argparse.ArgumentParser(prog="service.api")
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8000)
    words = parser.parse_args()
    settings = Settings()
    configure(settings.log_level)
    tempfile.tempdir = str(_spool(settings))
    logging.getLogger("uvicorn.error").setLevel(logging.WARNING)
    uvicorn.run(
        create_app(settings),
        host=words.host,
        port=words.port,
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=3,
        timeout_keep_alive=30,
        limit_concurrency=512,
        h11_max_incomplete_event_size=32 * 1024,
        server_header=False,
        proxy_headers=False,
    )


if __name__ == "__main__":
    main()
