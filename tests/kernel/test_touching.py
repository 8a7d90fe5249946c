"""Whether bodies touch, against distances known from their drawing: apart, near, lying in each other, in a cavity."""

from __future__ import annotations

import pytest

from examples import shapes
from schemas.base import Frame
from worker.kernel import contact, measure, primitives
from worker.kernel.contact import touches
from worker.kernel.shape import Body, compound

CUBE = Body(shapes.box((0, 0, 0), (10, 10, 10)))
HOLLOW = Body(shapes.cut(shapes.box((-5, -5, -5), (15, 15, 15)), shapes.box((-1, -1, -1), (11, 11, 11))))
AROUND = Body(shapes.box((-5, -5, -5), (15, 15, 15)))
BAR = Body(shapes.cylinder((12, 12, 0), (12, 12, 10), 4.8))
FAR = Body(shapes.box((40, 0, 0), (50, 10, 10)))
CORNER = Body(shapes.cut(shapes.box((-5, -5, -5), (30, 30, 30)), shapes.box((-6, -6, -6), (20, 20, 20))))


@pytest.mark.parametrize(
    ("other", "tolerance", "expected"),
    [
        (Body(shapes.box((10.02, 0, 0), (20, 10, 10))), 0.01, False),
        (Body(shapes.box((10.02, 0, 0), (20, 10, 10))), 0.05, True),
        (Body(shapes.box((10, 10, 10), (20, 20, 20))), 0.0, True),  # in one corner
        (AROUND, 0.01, True),  # the cube lies in its metal, 5 mm from all faces
        (HOLLOW, 0.01, False),  # in its cavity, 1 mm from all faces
        (HOLLOW, 1.01, True),
        (CORNER, 0.01, False),  # their boxes overlap, the metal is 10 mm off
        (compound([FAR, AROUND]), 0.01, True),
        (compound([FAR, HOLLOW]), 0.01, False),
        (FAR, 0.01, False),
        (BAR, 0.42, False),  # past an edge: their boxes overlap, the metal is sqrt(8) - 2.4 = 0.428 mm off
        (BAR, 0.44, True),
    ],
)
def test_bodies_touch_as_they_are_drawn(other: Body, tolerance: float, expected: bool) -> None:
    assert touches(CUBE, other, tolerance) is expected
    assert touches(other, CUBE, tolerance) is expected


def test_a_plate_aslant_beside_a_body_needs_no_distance_of_faces(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plate square to (1, 1, 1): its box along the axes holds the cube, whose corner (10, 10, 10) lies 30 / sqrt(3) =
    17.32 mm along that way: 0.02 mm below the plate at 17.34, above it at 17.30 where it enters."""
    frame = Frame(location=(0, 0, 0), axis=(1, 1, 1), ref_direction=(1, -1, 0))
    apart, entered = (primitives.box((-100, -100, low), (100, 100, 40), frame) for low in (17.34, 17.30))
    assert touches(CUBE, entered, 0.01)
    asked: list[int] = []
    monkeypatch.setattr(
        contact.measure, "distance", lambda *_: asked.append(1) or measure.Gap(0.0, (0, 0, 0), (0, 0, 0))
    )
    assert not touches(CUBE, apart, 0.01) and not touches(apart, CUBE, 0.01)
    assert not asked
