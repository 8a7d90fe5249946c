"""Recesses of which something takes a stretch of floor or walls; sizes are those that the tools were drawn with."""

from __future__ import annotations

import pytest

from bench.crossed import altered
from bench.rewrites import reordered
from schemas.feature import Feature
from tests.recognise.parts import block, obround, pocket, prism
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body

LOW = box((-1, -1, 5), (30, 61, 10))
"""A slot in the end face, lower than the pockets' walls are high."""


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def told(feature: Feature) -> tuple[object, ...]:
    return feature.class_, feature.ends, feature.open_sides, feature.length, feature.width, feature.depth


@pytest.mark.parametrize(
    ("pocket", "below", "wanted"),
    [
        (box((20, 20, 8), (80, 40, 21)), [LOW], ("closed_pocket", None, 0, 60, 20, 12)),
        (
            box((20, 20, 8), (80, 40, 21)),
            [LOW, box((70, -1, 5), (101, 61, 10))],
            ("closed_pocket", None, 0, 60, 20, 12),
        ),
        (box((20, 20, 8), (80, 50, 21)), [box((-1, -1, 5), (101, 30, 10))], ("closed_pocket", None, 0, 60, 30, 12)),
        (obround(26, 70, 30, 8, 21, 12), [LOW], ("slot", "radiused radiused", 0, 56, 12, 12)),
        (box((20, 20, 15), (80, 50, 21)), [box((20, 20, 8), (40, 30, 21))], ("closed_pocket", None, 0, 60, 30, 5)),
    ],
)
def test_a_pocket_stays_closed_where_its_floor_is_cut_away_below_its_mouth(
    pocket: Body, below: list[Body], wanted: tuple[object, ...]
) -> None:
    body = cut(block(), [pocket, *below])
    assert [pytest.approx(w) if isinstance(w, int) else w for w in wanted] in [list(told(f)) for f in recesses(body)]
    same_when_rewritten(body, 2)


def test_a_round_bottomed_slot_in_pieces_shorter_than_deep_is_one_from_above() -> None:
    """Radius 20, 3 deep: 2 sqrt(20^2 - 17^2) wide; slots of 5 leave 6, 7, 7 and 5 mm of its length of 40."""
    slots = [box((x, -1, 12), (x + 5, 61, 21)) for x in (6, 18, 30)]
    body = cut(block(40), [cylinder((-1, 30, 37), (41, 30, 37), 40), *slots])
    (trough,) = (f for f in recesses(body) if f.bottom == "radiused")
    assert told(trough)[:3] == ("slot", "open open", 2) and (0.0, 0.0, 1.0) in trough.access
    assert (trough.length, trough.width, trough.depth) == pytest.approx((40, 2 * 111**0.5, 3))
    same_when_rewritten(body, 1)


@pytest.mark.parametrize(
    ("tools", "wanted"),
    [
        # three walls, 20 deep from the end face; a slot askew leaves floor in one corner and in the rest
        (
            [
                prism([(10, 20), (40, 20), (40, 40)], -1, 20),
                prism([(24.5, 39.5), (27.5, 42.5), (75, -5), (72, -8)], -1, 41),
            ],
            ("closed_pocket", None, 0, 1300**0.5, 600 / 1300**0.5, 20),
        ),
        # a vee 8 deep with a wall at one end, and a deeper slot across it
        (
            [prism([(20, 61), (40, 61), (30, 52)], -1, 60), box((25, -1, 48), (35, 61, 61))],
            ("slot", "open flat", 1, 60, 160 / 9, 8),
        ),
    ],
)
def test_pieces_are_told_as_one_whatever_the_order_of_faces(tools: list[Body], wanted: tuple[object, ...]) -> None:
    """As without the slot: the longest wall is 36 long, the third corner 600 / 36 off it; the vee, 20 wide at 9 mm, is
    20 x 8 / 9 wide."""
    body = cut(block(z=60), tools)
    first = recesses(body)
    assert [pytest.approx(w, abs=1e-3) if isinstance(w, int | float) else w for w in wanted] in map(
        list, map(told, first)
    )
    for seed in range(4):
        assert altered(first, recesses(reordered(body, seed))) == []


def test_pocket_beyond_whose_dividing_slot_only_rounded_corners_are_left_is_whole() -> None:
    """Of the pocket 24 x 30 the slot leaves 8 mm with corners on one side, and the 6 mm of the corners on the other."""
    body = cut(block(z=30), [pocket((39, 22, 18), (63, 52, 31), 6, 1.5), box((47, -1, 14), (57, 61, 31))])
    hollow, slot = sorted(recesses(body), key=lambda f: f.class_)
    assert told(hollow) == ("closed_pocket", None, 0, *map(pytest.approx, (30, 24, 12)))
    assert told(slot) == ("slot", "open open", 2, *map(pytest.approx, (60, 10, 16)))
