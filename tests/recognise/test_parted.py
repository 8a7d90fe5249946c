"""What was worked out of triangles before some are picked is what is worked out of the picked ones alone."""

from __future__ import annotations

import numpy as np
import pytest

from worker.recognise.covering import Walls
from worker.recognise.projection import Seen

CHANCE = np.random.default_rng(5)
FLAT, HEIGHTS = CHANCE.uniform(-9, 9, (12, 3, 2)), CHANCE.uniform(-9, 9, (12, 3))
PICKED = np.array([7, 2, 11, 3])


@pytest.mark.parametrize("whole", [Seen(FLAT, HEIGHTS), Walls(FLAT, HEIGHTS, FLAT + 0.5, 1.0)], ids=["areas", "walls"])
def test_what_is_known_of_each_goes_along_with_it(whole: Seen) -> None:
    names = [*Seen.OF_EACH, *(["lines"] if isinstance(whole, Walls) else [])]
    for name in names:
        getattr(whole, name)
    found, anew = whole.parted(PICKED), whole.taken(PICKED)
    assert set(names) <= set(vars(found)) and not set(names) & set(vars(anew))
    for name in names:
        assert all(map(np.array_equal, _arrays(found, name), _arrays(anew, name))), name


def _arrays(of: Seen, name: str) -> tuple[np.ndarray, ...]:
    known = getattr(of, name)
    return known if isinstance(known, tuple) else (known,)
