"""What the checks of one test process found out about setups that their plans share.

For tests that change one thing of a plan and look at what is told: setups before the change come out of the cache,
whose answers are those of a check without one (held to the byte in `tests/cache`). Not for tests of speed, of
sameness or with a kernel made faulty.
"""

from __future__ import annotations

import tempfile
from functools import cache

from worker.cache.kept import Kept
from worker.cache.store import Place, Store

_FOLDER = tempfile.TemporaryDirectory(prefix="reclamp-tests-")


@cache
def kept() -> Kept:
    """The cache of this process, empty when it starts and gone when it ends."""
    return Kept(Store(Place(_FOLDER.name)))
