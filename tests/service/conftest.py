from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.support.service_stack import Stack


@pytest.fixture(scope="module")
def stack(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stack]:
    """A service that all tests of a module share."""
    stack = Stack(tmp_path_factory.mktemp("service"))
    try:
        yield stack.start()
    finally:
        stack.stop()
