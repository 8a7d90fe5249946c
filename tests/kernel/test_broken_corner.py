"""Where a zero can be picked up although it lies in the air: common practice of touching off, worked by hand."""

import pytest

from schemas.base import Frame
from worker.kernel.boolean import cut
from worker.kernel.broken_corner import on_a_broken_corner
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import WORLD, Body, move_body

TOLERANCE = 1e-3
BLOCK = box((0, 0, 0), (60, 40, 20))


def rounded(radius: float) -> Body:
    """The block with its upright edge at the origin rounded."""
    corner = cut(
        box((-1, -1, -1), (radius, radius, 21)), [cylinder((radius, radius, -2), (radius, radius, 22), 2 * radius)]
    )
    inside = cut(corner, [box((-1, radius, -1), (radius, 41, 21)), box((radius, -1, -1), (61, radius, 21))])
    return cut(BLOCK, [inside])


def broken(body: Body, leg: float) -> Body:
    """The body with a flat of ``leg`` at 45 degrees on its upper edge along x at y = 0: half of a square bar turned."""
    bar = box((-5, -leg / 2**0.5, -leg / 2**0.5), (65, leg / 2**0.5, leg / 2**0.5))
    turned = move_body(bar, WORLD, Frame(location=(0, 0, 20), axis=(0, -1, 1), ref_direction=(1, 0, 0)))
    return cut(body, [turned])


@pytest.mark.parametrize("radius", [0.5, 6.0, 15.0])
@pytest.mark.parametrize("z", [0.0, 7.0, 20.0])
def test_the_corner_of_a_rounded_edge_can_be_touched(radius: float, z: float) -> None:
    assert on_a_broken_corner(rounded(radius), (0, 0, z), TOLERANCE)


@pytest.mark.parametrize(
    "point", [(0.0, 0.0, 20.5), (0.0, 0.0, -0.5), (-0.05, 0.0, 20.0), (1.0, 0.0, 20.0), (0.0, 0.0, 60.0)]
)
def test_beside_that_corner_there_is_nothing(point: tuple[float, float, float]) -> None:
    assert not on_a_broken_corner(rounded(6.0), point, TOLERANCE)


def test_a_chamfered_edge_and_the_end_of_one_beside_a_round() -> None:
    assert on_a_broken_corner(broken(BLOCK, 2.0), (30, 0, 20), TOLERANCE)
    assert on_a_broken_corner(broken(rounded(6.0), 0.5), (0, 0, 20), TOLERANCE)


def test_a_corner_that_a_step_took_is_gone() -> None:
    assert not on_a_broken_corner(cut(BLOCK, [box((-1, -1, 8), (10, 10, 21))]), (0, 0, 20), TOLERANCE)
    assert not on_a_broken_corner(cut(BLOCK, [box((-1, -1, -1), (10, 10, 21))]), (0, 0, 20), TOLERANCE)
