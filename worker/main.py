"""The worker process: ``python -m worker.main QUEUE``."""

from __future__ import annotations

import sys

from service.logs import configure
from service.settings import Settings
from worker.compute import Geometry
from worker.consume import consume
from worker.tasks import make_app


def main() -> None:
    """Take jobs from the queue named on the command line until SIGTERM."""
    settings = Settings()
    configure(settings.log_level)
    app, runner = make_app(settings, Geometry(settings))
    consume(app, runner, settings, sys.argv[1])


if __name__ == "__main__":
    main()
