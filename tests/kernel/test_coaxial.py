"""Held to the kernel's own cut: a cylinder is held where nothing of it is left over."""

import pytest

from worker.kernel import boolean, measure, primitives
from worker.kernel.coaxial import holds_round
from worker.kernel.shape import Body

COLUMN = ((3.0, 4.0, 2.0), (3.0, 4.0, 9.0), 5.0)


def _rod(low: float, high: float, diameter: float, aside: float = 0.0, lean: float = 0.0) -> Body:
    return primitives.cylinder((3 + aside, 4, low), (3 + aside + lean * (high - low), 4, high), diameter)


def _drill(full: float) -> Body:
    return boolean.fuse([_rod(full, 12, 6.0), primitives.cone((3, 4, full - 2), (3, 4, full), 0.0, 6.0)])


BODIES = {
    "the same": (_rod(2, 9, 5.0), True),
    "a drill": (_drill(1.0), True),
    "a wide one": (_rod(0, 12, 60.0), True),
    "off its axis": (_rod(0, 12, 6.0, aside=0.6), False),
    "leaning": (_rod(0, 12, 6.0, lean=0.1), False),
    "too short": (_rod(0, 8.999, 6.0), False),
    "too narrow": (_rod(0, 12, 4.999), False),
    "a point in it": (_drill(3.0), False),
    "above it": (_rod(9, 12, 6.0), False),
    "a tube round it": (boolean.cut(_rod(0, 12, 9.0), [_rod(0, 12, 6.0)]), False),
}


@pytest.mark.parametrize("name", BODIES)
def test_a_cylinder_is_held_where_a_cut_leaves_nothing_of_it(name: str) -> None:
    body, held = BODIES[name]
    column = primitives.cylinder(*COLUMN)
    assert holds_round(body, column) == held
    assert (measure.volume(boolean.cut(column, [body], merge=False)) < 1e-9) == held


def test_in_doubt_nothing_is_held() -> None:
    block = primitives.box((-10, -10, 0), (20, 20, 12))
    assert not holds_round(block, primitives.box((0, 0, 2), (1, 1, 9)))
    assert not holds_round(block, primitives.cone((3, 4, 2), (3, 4, 9), 5.0, 4.0))
    crossed = boolean.cut(block, [primitives.cylinder((-10, 4, 6), (20, 4, 6), 1.0)])
    assert not holds_round(crossed, primitives.cylinder(*COLUMN))
