"""Health check of a worker container: its first process lives and left a sign in the broker of late."""

from __future__ import annotations

import socket
import sys

from service.broker.presence import is_alive
from service.settings import Settings
from service.wiring import redis_client


def main() -> int:
    """0 when the worker of this host shows itself, 1 when it does not or the broker is away."""
    try:
        return 0 if is_alive(redis_client(Settings().broker()), socket.gethostname()) else 1
    except Exception:
        return 1


if __name__ == "__main__":
    sys.exit(main())
