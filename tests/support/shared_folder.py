"""The folder of one run of the tests, the same in each of its processes; imports nothing of the product."""

from __future__ import annotations

import os

VARIABLE = "RECLAMP_TESTS_KEPT"


def shared_folder() -> str:
    """Empty when a run starts and gone when it ends."""
    return os.environ[VARIABLE]


def with_cache() -> dict[str, str]:
    """The environment of a command that may use what the run's other tests found out."""
    return {**os.environ, "RECLAMP_CACHE": shared_folder()}
