from __future__ import annotations

import os
import shutil
import tempfile

import pytest

from tests.support.shared_folder import VARIABLE


def pytest_configure(config: pytest.Config) -> None:
    """The process that starts a run makes the folder that all its test processes share."""
    if not hasattr(config, "workerinput"):
        os.environ[VARIABLE] = tempfile.mkdtemp(prefix="reclamp-tests-")


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(VARIABLE), ignore_errors=True)
