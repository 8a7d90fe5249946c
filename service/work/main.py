"""The worker process: ``python -m service.work.main QUEUE``.

Imports nothing at its top: the kernel's children import their parent's main module again, and need none of the service.
"""

import sys


def main() -> None:
    """Take jobs from the queue named on the command line until SIGTERM."""
    from service.logs import configure
    from service.settings import Settings
    from service.work.compute import Geometry
    from service.work.consume import consume
    from service.work.tasks import make_app

    settings = Settings()
    configure(settings.log_level)
    app, runner = make_app(settings, Geometry(settings))
    consume(app, runner, settings, sys.argv[1])


if __name__ == "__main__":
    main()
