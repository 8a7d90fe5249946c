"""Facets between the chamfers of three edges that meet: no plane faces of the part, and no outline goes round them."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.recognise.parts import at_height, block, chamfered
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box


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


def test_edges_that_turn_inwards_are_chamfered_on_both_sides_of_the_corner() -> None:
    """The top of an L: six edges, of which two meet in its inner corner; a step lies below."""
    found = recognise(chamfered(cut(block(), [box((60, 30, -1), (101, 61, 21))]), 1.0, at_height(20)))
    classes = Counter(f.class_ for f in found)
    assert (classes["chamfer"], classes["step"], classes["slot"]) == (6, 1, 0)
    lengths = sorted(f.length or 0 for f in found if f.class_ == "chamfer")
    # their lower edges are as long as the sides; the two in the inner corner go on there by the leg, along the top
    assert lengths == pytest.approx([30, 31, 41, 60, 60, 100])


def test_a_stair_chamfered_all_over() -> None:
    """A step across the part: 19 edges less the one in its corner, 10 outer corners of three; no slots, no facets."""
    part = cut(block(), [box((60, -1, 10), (101, 61, 21))])
    found = recognise(
        chamfered(part, 1.0, lambda a, b: not all(abs(p[0] - 60) + abs(p[2] - 10) < 1e-6 for p in (a, b)))
    )
    chamfers = [f for f in found if f.class_ == "chamfer"]
    assert len([f for f in chamfers if f.length is None]) == 10
    assert len([f for f in chamfers if f.length is not None]) == 17
    assert not [f for f in found if f.class_ in ("slot", "region")]
    assert all(max(abs(c) for c in f.placement.axis) > 0.99 for f in found if f.class_ == "planar_face")
