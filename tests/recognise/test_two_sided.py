"""Pockets from both faces and the window between them are three features, also where they share walls; as built."""

from __future__ import annotations

import math

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, obround, pocket
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.measure import bounding_box, volume
from worker.kernel.planar import polygon
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.kernel.sweep import prism

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
WINDOW = box((40, 20, -1), (70, 40, 41))


def above(x0: float, y0: float, x1: float, y1: float, depth: float = 10) -> Body:
    return box((x0, y0, 40 - depth), (x1, y1, 41))


def below(x0: float, y0: float, x1: float, y1: float, depth: float = 8) -> Body:
    return box((x0, y0, -1), (x1, y1, depth))


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def in_three(body: Body) -> tuple[Feature, Feature, Feature]:
    """Window, pocket above, pocket below."""
    found = recesses(body)
    assert len(found) == 3
    (window,) = [f for f in found if f.bottom == "through"]
    (top,) = [f for f in found if UP in f.access and f is not window]
    (bottom,) = [f for f in found if DOWN in f.access and f is not window]
    return window, top, bottom


def as_built(found: Feature, tool: Body, depth: float) -> None:
    """Size and place of a pocket whose tool is a box (or has the box's extents)."""
    low, high = bounding_box(tool).min, bounding_box(tool).max
    long, wide = sorted((high[0] - low[0], high[1] - low[1]), reverse=True)
    assert (found.length, found.width, found.depth) == pytest.approx((long, wide, depth), abs=1e-5)
    assert found.placement.location[:2] == pytest.approx(((low[0] + high[0]) / 2, (low[1] + high[1]) / 2), abs=1e-5)


CLOSED = [
    (above(40, 10, 90, 50), below(40, 10, 95, 55)),  # flush with one wall, the same from both sides
    (above(40, 10, 90, 50), below(20, 10, 70, 50)),  # with one from above, the opposite one from below
    (above(40, 10, 90, 50), below(30, 10, 90, 40)),  # ... the one beside it from below
    (above(40, 20, 90, 50), below(40, 20, 95, 55)),  # with two that meet, the same
    (above(40, 20, 90, 50), below(20, 10, 70, 40)),  # ... the other two from below
    (above(30, 20, 90, 40), below(25, 20, 95, 40)),  # with two opposite ones
    (above(30, 20, 90, 40), below(40, 10, 70, 50)),  # ... the other two from below
]


@pytest.mark.parametrize(("top", "bottom"), CLOSED)
def test_a_window_between_two_pockets_is_a_feature_of_its_own(top: Body, bottom: Body) -> None:
    window, upper, lower = in_three(cut(block(z=40), [WINDOW, top, bottom]))
    assert {f.class_ for f in (window, upper, lower)} == {"closed_pocket"}
    assert {f.open_sides for f in (window, upper, lower)} == {0}
    as_built(window, WINDOW, 22)
    assert window.placement.location[2] == pytest.approx(30) and set(window.access) == {UP, DOWN}
    as_built(upper, top, 10)
    as_built(lower, bottom, 8)


@pytest.mark.parametrize(("seed", "tools"), list(enumerate(CLOSED)))
def test_they_are_the_same_however_the_part_is_written(seed: int, tools: tuple[Body, Body]) -> None:
    same_when_rewritten(cut(block(z=40), [WINDOW, *tools]), seed)


def test_rounded_corners_and_floors() -> None:
    """The window's corner goes on into the pocket's fillet; its depth counts from the floor."""
    top, bottom = pocket((35, 20, 30), (80, 50, 51), 4, 2), pocket((40, 10, -9), (80, 50, 8), 4)
    body = cut(block(z=40), [pocket((40, 20, -1), (70, 40, 41), 4), top, bottom])
    window, upper, lower = in_three(body)
    as_built(window, WINDOW, 22)
    as_built(upper, top, 10)
    as_built(lower, bottom, 8)
    assert [f.orthogonal_radius for f in (window, upper, lower)] == pytest.approx([4, 4, 4])
    assert upper.planar_radius == pytest.approx(2) and lower.planar_radius is None
    same_when_rewritten(body, 5)


ENDS = {"slot": 3, "step": 4, "closed_pocket": 1}
"""From how many sides each is seen: its own, and those to which it is open."""


@pytest.mark.parametrize(
    ("top", "bottom", "kinds"),
    [
        (box((-1, 20, 30), (101, 40, 41)), box((-1, 20, -1), (101, 40, 8)), ("slot", "slot")),
        (box((-1, 20, 30), (101, 40, 41)), box((40, -1, -1), (70, 61, 8)), ("slot", "slot")),
        (box((40, -1, 30), (101, 61, 41)), box((40, -1, -1), (101, 61, 8)), ("step", "step")),
        (box((40, -1, 30), (101, 61, 41)), box((-1, -1, -1), (70, 61, 8)), ("step", "step")),
        (box((40, -1, 30), (101, 61, 41)), box((40, 10, -1), (90, 50, 8)), ("step", "closed_pocket")),
    ],
)
def test_slots_and_steps_on_both_faces(top: Body, bottom: Body, kinds: tuple[str, str]) -> None:
    body = cut(block(z=40), [WINDOW, top, bottom])
    window, upper, lower = in_three(body)
    as_built(window, WINDOW, 22)
    assert (upper.class_, lower.class_) == kinds
    assert [len(f.access) for f in (upper, lower)] == [ENDS[kind] for kind in kinds]
    assert (upper.depth, lower.depth) == pytest.approx((10, 8))
    same_when_rewritten(body, 7)


def test_a_window_flush_on_three_sides_goes_through_to_that_side() -> None:
    """Where a pocket does not reach round a window it is open to it, and the window goes on to the surface."""
    window, upper, lower = in_three(cut(block(z=40), [WINDOW, above(40, 20, 90, 40), below(40, 10, 90, 50)]))
    as_built(window, WINDOW, 32)
    assert (upper.class_, upper.open_sides) == ("open_pocket", 1)
    assert (upper.length, upper.width, upper.depth) == pytest.approx((20, 20, 10))
    as_built(lower, below(40, 10, 90, 50), 8)


def test_several_windows_and_pockets_each_whole() -> None:
    """Two windows flush with both long walls of the pocket below, each under a pocket of its own."""
    tools = [WINDOW, box((75, 20, -1), (85, 40, 41)), above(30, 20, 72, 50), above(74, 20, 110, 50)]
    body = cut(block(x=140, z=40), [*tools, below(25, 20, 120, 40)])
    found = recesses(body)
    assert [f.class_ for f in found] == ["closed_pocket"] * 5
    sizes = sorted((f.length, f.width, f.depth) for f in found)
    wanted = sorted([(30, 20, 22), (20, 10, 22), (42, 30, 10), (36, 30, 10), (95, 20, 8)])
    assert [tuple(s) for s in sizes] == [pytest.approx(w) for w in wanted]
    same_when_rewritten(body, 3)


def test_levels_above_a_window() -> None:
    tools = [WINDOW, above(40, 10, 90, 50, 16), above(40, 5, 110, 55, 10), below(40, 10, 95, 50)]
    found = recesses(cut(block(x=140, z=40), tools))
    sizes = sorted((f.length, f.width, f.depth) for f in found)
    wanted = sorted([(30, 20, 16), (50, 40, 16), (70, 50, 10), (55, 40, 8)])
    assert [tuple(s) for s in sizes] == [pytest.approx(w) for w in wanted]


def test_pockets_that_break_into_each_other_have_no_window_between() -> None:
    body = cut(block(z=40), [box((20, 20, 15), (60, 40, 41)), box((40, 20, -1), (80, 40, 25))])
    upper, lower = recesses(body)
    assert [(f.class_, f.open_sides, f.access) for f in (upper, lower)] == [
        ("open_pocket", 1, (UP,)),
        ("open_pocket", 1, (DOWN,)),
    ]
    for found in (upper, lower):
        assert (found.length, found.width, found.depth) == pytest.approx((40, 20, 25))
    same_when_rewritten(body, 2)


def test_a_hole_across_changes_nothing() -> None:
    tools = [WINDOW, above(40, 10, 90, 50), below(40, 10, 90, 50), cylinder((-1, 30, 20), (101, 30, 20), 6)]
    found = recesses(cut(block(z=40), tools))
    assert sorted(f.class_ for f in found) == ["closed_pocket"] * 3 + ["round_hole"]
    assert sorted(f.depth or 0 for f in found) == pytest.approx([8, 10, 22, 100])


def test_obrounds_above_each_other() -> None:
    """The window shares both flats with the slot above, and those and one end with the one below."""
    tools = [obround(40, 60, 30, -1, 41, 20), obround(30, 70, 30, 30, 41, 20), obround(40, 80, 30, -1, 8, 20)]
    window, upper, lower = in_three(cut(block(z=40), tools))
    assert (window.class_, window.ends) == (upper.class_, upper.ends) == ("slot", "radiused radiused")
    assert (window.length, window.width, window.depth) == pytest.approx((40, 20, 30))
    assert (upper.length, upper.width, upper.depth) == pytest.approx((60, 20, 10))
    assert (lower.class_, lower.ends, lower.depth) == ("slot", "open radiused", pytest.approx(8))


def test_two_windows_side_by_side_in_a_slot() -> None:
    """The land between them is metal, though its two walls look at no floor of their own."""
    tools = [box((20, 20, -1), (40, 40, 21)), box((45, 20, -1), (75, 40, 21)), box((10, 20, -1), (90, 40, 8))]
    found = recesses(cut(block(), tools))
    sizes = sorted((f.length, f.width, f.depth) for f in found)
    wanted = sorted([(20, 20, 12), (30, 20, 12), (80, 20, 8)])
    assert [tuple(s) for s in sizes] == [pytest.approx(w) for w in wanted]


def test_pockets_whose_floors_lie_in_one_plane() -> None:
    body = cut(block(z=40), [box((20, 20, 20), (60, 40, 41)), box((40, 20, -1), (80, 40, 20))])
    found = recesses(body)
    assert [(f.class_, f.open_sides) for f in found] == [("open_pocket", 1)] * 2
    assert [(f.length, f.width, f.depth) for f in found] == [pytest.approx((40, 20, 20))] * 2
    same_when_rewritten(body, 3)


LEAN = math.tan(math.radians(5))
ALONG_Y = Frame(location=(0, 0, 0), axis=(0, 1, 0), ref_direction=(1, 0, 0))
"""Outlines in x and -z, drawn out along y."""


def drafted(x0: float, x1: float, y1: float, floor: float, mouth: float) -> Body:
    """A pocket from y = 15 whose walls in x lean out by 5 degrees from its floor to its mouth."""
    out = abs(mouth - floor) * LEAN
    return prism(polygon(((x0, -floor), (x1, -floor), (x1 + out, -mouth), (x0 - out, -mouth))), ALONG_Y, 15, y1)


@pytest.mark.parametrize("windows", [[(40.0, 60.0)], [(35.0, 45.0), (55.0, 65.0)]])
def test_drafted_pockets_from_both_faces_and_windows(windows: list[tuple[float, float]]) -> None:
    """The wall at y = 15 is upright and goes right through: pockets and windows have it in common."""
    holes = [box((a, 15, 10), (b, 38, 30)) for a, b in windows]
    body = cut(block(z=40), [drafted(20, 80, 45, 28, 40), drafted(25, 75, 42, 12, 0), *holes])
    found = recesses(body)
    through = [f for f in found if f.bottom == "through"]
    (top,) = [f for f in found if UP in f.access and f not in through]
    (bottom,) = [f for f in found if DOWN in f.access and f not in through]
    assert len(through) == len(windows) and {f.class_ for f in found} == {"closed_pocket"}
    width = windows[0][1] - windows[0][0]
    assert all((f.length, f.width, f.depth) == pytest.approx((23, width, 16)) for f in through)
    for pocket_, length, across in ((top, 60, 30), (bottom, 50, 27)):
        assert (pocket_.length, pocket_.width) == pytest.approx((length + 24 * LEAN, across))
        assert (pocket_.depth, pocket_.slope, pocket_.open_sides) == (pytest.approx(12), pytest.approx(5), 0)
    removed = 12 * ((60 + 12 * LEAN) * 30 + (50 + 12 * LEAN) * 27) + len(windows) * 23 * width * 16
    assert 100 * 60 * 40 - volume(body) == pytest.approx(removed)
    same_when_rewritten(body, 3)


def test_a_window_from_wall_to_wall_opens_no_side_of_drafted_pockets() -> None:
    """It leaves the floors in two pieces, but walls stand all round them."""
    out = 12 * LEAN
    sides = ((15.0, 28.0), (45.0, 28.0), (45 + out, 40.0), (15 - out, 40.0))
    along = Frame(location=(0, 0, 0), axis=(1, 0, 0), ref_direction=(0, 1, 0))
    top = prism(polygon(sides), along, 20, 80)
    found = recesses(cut(block(z=40), [top, box((40, 15, -1), (60, 45, 30))]))
    assert [(f.class_, f.open_sides) for f in found] == [("closed_pocket", 0)] * 2
