"""Facets between the chamfers of three edges that meet: no plane faces of the part, and no outline goes round them."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.recognise.parts import block, chamfered
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten


@pytest.mark.parametrize("leg", [0.3, 1.0, 4.0])
def test_a_block_chamfered_all_over(leg: float) -> None:
    """12 edges, 8 corners, 6 sides; by hand. A corner's facet leans as the diagonal of a cube does (54.736 degrees)."""
    found = recognise(chamfered(block(), leg, lambda a, b: True))
    classes = Counter(f.class_ for f in found)
    assert classes == {"chamfer": 20, "planar_face": 6, "profile_feature": 3}
    chamfers = [f for f in found if f.class_ == "chamfer"]
    corners = [f for f in chamfers if f.length is None]
    assert len(corners) == 8
    for corner in corners:
        assert corner.angle == pytest.approx(54.7356, abs=1e-3)
        assert corner.depth == pytest.approx(leg, rel=1e-6)
    assert all(f.angle == pytest.approx(45) for f in chamfers if f.length is not None)


def test_it_is_the_same_however_it_is_written() -> None:
    same_when_rewritten(chamfered(block(), 1.0, lambda a, b: True), 7)
