"""What the checks of one run of the tests found out about parts and setups that their plans share.

For tests that change one thing of a plan and look at what is told: setups before the change come out of the cache,
whose answers are those of a check without one (held to the byte in `tests/cache`). Not for tests of speed, of
sameness or with a kernel made faulty.
"""

from __future__ import annotations

from functools import cache

from tests.support.shared_folder import shared_folder
from worker.cache.kept import Kept
from worker.cache.store import Place, Store


@cache
def kept() -> Kept:
    """The cache that all processes of this run share."""
    return Kept(Store(Place(shared_folder())))
