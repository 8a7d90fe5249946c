"""Points on and in features, on a part whose places are known from how it was built."""

from __future__ import annotations

import pytest

from schemas.base import Vec3
from worker.kernel import boolean, primitives
from worker.locate import on_feature_of
from worker.recognise import recognise

SOLID = boolean.cut(
    primitives.box((0.0, 0.0, 0.0), (60.0, 40.0, 20.0)),
    [
        primitives.cylinder((15.0, 20.0, 8.0), (15.0, 20.0, 25.0), 8.0),
        primitives.box((30.0, 10.0, 12.0), (50.0, 30.0, 25.0)),
    ],
)
FEATURES = recognise(SOLID)


@pytest.mark.parametrize(
    ("point", "classes"),
    [
        ((15.0, 20.0, 14.0), {"round_hole"}),  # in the air of the hole
        ((15.0, 20.0, 8.0), {"round_hole"}),  # on its floor
        ((40.0, 20.0, 12.0), {"closed_pocket"}),
        ((40.0, 20.0, 16.0), {"closed_pocket"}),
        ((5.0, 5.0, 20.0), {"planar_face", "profile_feature"}),  # the top is a wall of the contours round X and Y
        ((5.0, 5.0, 10.0), set()),  # in the metal
        ((0.0, 20.0, 10.0), {"planar_face", "profile_feature"}),
    ],
)
def test_a_point_lies_on_what_was_built_there(point: Vec3, classes: set[str]) -> None:
    on_feature = on_feature_of(SOLID)
    assert {f.class_ for f in FEATURES if on_feature(f, point)} == classes
