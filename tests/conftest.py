from __future__ import annotations

import importlib
import os
import shutil
import sys
import tempfile
from collections import Counter
from contextlib import suppress
from pathlib import Path

import pytest

from tests.support.shared_folder import VARIABLE

TESTS = Path(__file__).parent
LONGEST = (
    "service/test_faults.py",
    "examples/test_faults.py",
    "checks/test_undercuts.py",
    "checks/test_crowded_floors.py",
    "checks/test_holes_and_floors.py",
    "properties/test_rigid_motion.py",
    "properties/test_stock_properties.py",
    "properties/test_reach_of_plans.py",
    "cli/test_check_command.py",
    "volumes/test_tilted_slots.py",
    "volumes/test_crossed_slopes.py",
    "present/test_shop_rule.py",
    "stage/test_ramps_with_fillets.py",
    "service/test_real_worker.py",
    "recognise/test_crossed.py",
    "stage/test_uneven_chamfers.py",
    "volumes/test_filleted_slopes.py",
)
"""Files that take longest for their number of tests (seconds of a processor, or of waiting): begun first, so that none
of them runs alone at the end."""


def pytest_configure(config: pytest.Config) -> None:
    """The process that starts a run makes the folder that all its test processes share."""
    if not hasattr(config, "workerinput"):
        os.environ[VARIABLE] = tempfile.mkdtemp(prefix="reclamp-tests-")


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(VARIABLE), ignore_errors=True)


def pytest_collection(session: pytest.Session) -> None:
    """Test files that several processes are to read are compiled once: each begins at another one."""
    given = getattr(session.config, "workerinput", None)
    if given is None or session.config.args_source is not pytest.Config.ArgsSource.TESTPATHS:
        return
    sys.dont_write_bytecode = False
    files = sorted(TESTS.glob("*/test_*.py"))
    share = int(given["workerid"].removeprefix("gw")) * len(files) // given["workercount"]
    for file in files[share:] + files[:share]:
        with suppress(Exception):  # told when it is collected
            importlib.import_module(".".join(("tests", *file.relative_to(TESTS).with_suffix("").parts)))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files that take longest come first, then those with many tests."""
    many = Counter(item.path for item in items)
    first = {TESTS / name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: (first.get(item.path, len(first)), -many[item.path]))
