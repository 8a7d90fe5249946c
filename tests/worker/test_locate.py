"""Points on and in features, on a part whose places are known from how it was built."""

from __future__ import annotations

import pytest

from schemas.base import Vec3
from worker.kernel import boolean, measure, primitives
from worker.kernel.shape import Body, faces
from worker.locate import on_feature_of
from worker.part import Part
from worker.recognise import recognise

box = primitives.box


def part_of(*tools: Body) -> Part:
    """A block of 60 x 40 x 20 after some cuts."""
    body = boolean.cut(box((0.0, 0.0, 0.0), (60.0, 40.0, 20.0)), tools)
    size, volume = measure.bounding_box(body), measure.volume(body)
    return Part(body, recognise(body), len(faces(body)), size, volume, "")


PART = part_of(
    primitives.cylinder((15.0, 20.0, 8.0), (15.0, 20.0, 25.0), 8.0), box((30.0, 10.0, 12.0), (50.0, 30.0, 25.0))
)


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
    on_feature = on_feature_of(PART)
    assert {f.class_ for f in PART.features if on_feature(f, point)} == classes


ALONG, ACROSS = box((-1, 15, 12), (61, 25, 21)), box((20, -1, 12), (28, 41, 21))
POCKET, WINDOW = box((10, 5, 12), (50, 35, 21)), box((10, 10, -1), (30, 30, 21))


@pytest.mark.parametrize(
    ("tools", "point", "widths"),
    [
        ((ALONG, ACROSS), (5, 20, 15), [10]),  # in the air of one
        ((ALONG, ACROSS), (5, 20, 12), [10]),  # on the floor that both have
        ((ALONG, ACROSS), (24, 5, 12), [8]),
        ((ALONG, ACROSS), (24, 20, 12), [8, 10]),  # where they cross
        ((POCKET, ALONG), (15, 8, 12), [30]),
        ((POCKET, ALONG), (5, 20, 15), [10]),
        ((POCKET, WINDOW), (12, 20, 15), [30]),  # beside the wall that both have, over the window
        ((POCKET, WINDOW), (10, 20, 15), [30]),
        ((POCKET, WINDOW), (10, 20, 8), [20]),
    ],
)
def test_of_what_recesses_share_a_point_tells_one_apart(
    tools: tuple[Body, ...], point: Vec3, widths: list[float]
) -> None:
    """Slots 10 wide along X and 8 wide along Y, pockets 30 and 20 wide: each point lies in the boxes so cut."""
    part = part_of(*tools)
    on_feature = on_feature_of(part)
    found = [f for f in part.features if f.class_ in ("slot", "closed_pocket") and on_feature(f, point)]
    assert sorted(f.width or 0 for f in found) == pytest.approx(widths)
