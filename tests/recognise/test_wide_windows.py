"""Windows as wide as the pocket that they lead into, and passages of one height that cross: each as large as drawn."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import block, pocket
from tests.support.agreed import agreed
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from tests.support.trial import cut_volume, plan, raw_box, setup, step, tool
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

POCKET, ROUND = pocket((30, 10, 8), (60, 50, 21)), pocket((30, 10, 8), (60, 50, 21), 4)
RIGHT, LEFT, BACK = box((50, 10, 8), (101, 50, 14)), box((-1, 10, 8), (40, 50, 12)), box((30, 40, 8), (60, 61, 12))
FLUSH = box((50, 10, 8), (101, 40, 14))


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def sizes(feature: Feature) -> tuple[float, ...]:
    return tuple(round(size or 0.0, 4) for size in (feature.length, feature.width, feature.depth))


@pytest.mark.parametrize(
    ("hollow", "windows", "depths"),
    [
        (POCKET, {"right": RIGHT}, {"right": 40}),
        (ROUND, {"right": RIGHT}, {"right": 44}),
        (POCKET, {"right": RIGHT, "left": LEFT}, {"right": 40, "left": 30}),
        (POCKET, {"right": RIGHT, "back": BACK}, {"right": 40, "back": 10}),
        (ROUND, {"right": RIGHT, "back": BACK}, {"right": 44, "back": 14}),
        (ROUND, {"right": FLUSH}, {"right": 44}),
    ],
)
def test_a_window_level_with_its_pocket_and_as_wide(
    hollow: Body, windows: dict[str, Body], depths: dict[str, float]
) -> None:
    """Each goes as deep as the wall is thick, over the rounds of its corners (4) where the pocket has such, and is
    named as it is without the pocket; the pocket keeps all of its sizes."""
    (alone,) = recesses(cut(block(), [hollow]))
    body = cut(block(), [hollow, *windows.values()])
    found = {f.id: f for f in recesses(body)}
    kept = found.pop(alone.id)
    assert (kept.class_, sizes(kept), kept.bottom) == ("closed_pocket", (40, 30, 12), "planar")
    assert kept.access == ((0, 0, 1),)
    for name, window in windows.items():
        (lone,) = recesses(cut(block(), [window]))
        here = found.pop(lone.id)
        assert (here.class_, sizes(here)) == ("closed_pocket", (lone.length, lone.width, depths[name]))
        assert (here.access, here.bottom) == (lone.access, "through")
    assert not found


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        (box((-1, 25, 6), (101, 35, 14)), box((40, -1, 6), (60, 61, 14)), {(10, 8, 100), (20, 8, 60)}),
        (box((-1, 25, 6), (60, 35, 14)), box((40, 25, 6), (60, 61, 14)), {(10, 8, 60), (20, 8, 35)}),
        (box((30, 10, -1), (60, 50, 21)), box((45, 10, 6), (101, 50, 14)), {(40, 30, 20), (40, 8, 40)}),
    ],
    ids=["plus", "corner", "into a well"],
)
def test_passages_of_one_height_are_as_large_as_drawn(a: Body, b: Body, expected: set[tuple[float, ...]]) -> None:
    """The walls that they share run on along both: they told the size of each."""
    body = cut(block(), [a, b])
    found = recesses(body)
    assert {sizes(f) for f in found} == expected and len(found) == len(expected)
    assert {f.class_ for f in found} == {"closed_pocket"}


def test_another_encoding_of_such_a_window() -> None:
    same_when_rewritten(cut(block(), [ROUND, FLUSH]), 2)


def test_such_a_window_is_cut_as_deep_as_its_wall() -> None:
    """30 x 6 to the rounds of the pocket's corners at 44, less what a cutter of 3.6 leaves in four corners along it."""
    part = cut(block(), [ROUND, FLUSH]).wrapped
    work = step("bottom_and_side_rough_milling", tool("endmill", 3.6), {"class": "closed_pocket", "normal": [1, 0, 0]})
    stage = agreed(part, plan(raw_box((0, 0, 0), (100, 60, 20)), setup([work], axis=(1, 0, 0))))
    assert cut_volume(stage.cuts[0]) == pytest.approx(44 * (30 * 6 - (4 - math.pi) * 1.8**2), abs=0.01)
