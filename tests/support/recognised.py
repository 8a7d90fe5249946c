"""The features of a body, found once: a test asks for its slots, its holes, and once more when it is rewritten.

Bodies are told by who they are, not by what they hold: two that are made alike are each recognised. Not for tests of
sameness, where the second look is the point (`tests/recognise/test_stability.py`), nor of speed.
"""

from __future__ import annotations

from functools import lru_cache

from schemas.feature import Feature
from worker import recognise as product
from worker.kernel.shape import Body


@lru_cache(maxsize=16)
def recognise(body: Body) -> tuple[Feature, ...]:
    """What the product says of the body."""
    return product.recognise(body)
