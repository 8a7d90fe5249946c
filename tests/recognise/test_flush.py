"""A window and the larger pocket it opens into are two features, also where they share walls; sizes are as built."""

from __future__ import annotations

import pytest

from bench.reencode import reencoded
from bench.rewrites import reordered
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, pocket
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.graph import face_graph
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body
from worker.recognise import assemble, recognise
from worker.recognise.patches import part_shape

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
WINDOW = box((40, 20, -1), (70, 40, 21))


def recesses(body: Body) -> list[Feature]:
    """Windows first."""
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    return sorted(found, key=lambda f: f.bottom != "through")


@pytest.mark.parametrize(
    "tools",
    [
        ([WINDOW], box((20, 10, -1), (80, 50, 8))),  # round it
        ([WINDOW], box((40, 10, -1), (90, 50, 8))),  # flush on one side
        ([WINDOW], box((40, 20, -1), (90, 50, 8))),  # on two that meet
        ([WINDOW], box((30, 20, -1), (90, 40, 8))),  # on two opposite ones
        ([pocket((40, 20, -1), (70, 40, 21), 4)], pocket((40, 10, -1), (80, 50, 8), 4)),
        ([pocket((40, 20, -1), (70, 40, 21), 4)], pocket((30, 20, -1), (80, 40, 8), 4)),
    ],
)
def test_a_window_above_a_larger_pocket_is_a_feature_of_its_own(tools: tuple[list[Body], Body]) -> None:
    from worker.kernel.measure import bounding_box

    window, below = recesses(cut(block(), [*tools[0], tools[1]]))
    assert (window.class_, below.class_) == ("closed_pocket", "closed_pocket")
    assert (window.length, window.width, window.depth) == pytest.approx((30, 20, 12))
    assert window.placement.location == pytest.approx((55, 30, 20)) and set(window.access) == {UP, DOWN}
    low, high = bounding_box(tools[1]).min, bounding_box(tools[1]).max
    assert (below.length, below.width) == pytest.approx((high[0] - low[0], high[1] - low[1]), abs=1e-5)
    assert below.depth == pytest.approx(8) and below.access == (DOWN,) and below.open_sides == 0


def test_a_window_flush_on_three_sides_goes_through_and_the_pocket_is_open_to_it() -> None:
    window, below = recesses(cut(block(), [WINDOW, box((40, 20, -1), (90, 40, 8))]))
    assert (window.length, window.width, window.depth) == pytest.approx((30, 20, 20))
    assert (below.class_, below.open_sides, below.access) == ("open_pocket", 1, (DOWN,))
    assert (below.length, below.width, below.depth) == pytest.approx((20, 20, 8))


def test_a_window_as_wide_as_the_slot_below_it() -> None:
    window, below = recesses(cut(block(), [WINDOW, box((-1, 20, -1), (101, 40, 8))]))
    assert (window.length, window.width, window.depth) == pytest.approx((30, 20, 12))
    assert (below.class_, below.ends) == ("slot", "open open")
    assert (below.length, below.width, below.depth) == pytest.approx((100, 20, 8))


def test_obrounds_one_above_the_other() -> None:
    window, below = recesses(cut(block(), [obround(40, 60, 30, -1, 21, 10), obround(40, 60, 30, -1, 8, 20)]))
    assert [f.ends for f in (window, below)] == ["radiused radiused"] * 2
    assert (window.length, window.width, window.depth) == pytest.approx((30, 10, 12))
    assert (below.length, below.width, below.depth) == pytest.approx((40, 20, 8))


def tee(x0: float, x1: float) -> list[Body]:
    """Neck 12 wide, foot 22 wide and 9 high, between centres."""
    return [obround(x0, x1, 30, 11, 20, 22), obround(x0, x1, 30, 19, 41, 12)]


@pytest.mark.parametrize(
    ("tools", "length", "ends"),
    [
        (tee(40, 120), 71, "open radiused"),
        (tee(30, 70), 62, "radiused radiused"),
        ([*tee(30, 70), drill(30, 30, 11, 41, 22)], 62, "open radiused"),  # with a hole that lets the cutter in
        ([box((30, 24, 20), (101, 36, 41)), box((30, 19, 11), (101, 41, 20))], 70, "open flat"),
        ([box((30, 24, 20), (101, 36, 41)), box((25, 19, 11), (101, 41, 20))], 75, "open flat"),
    ],
)
def test_a_blind_t_slot_is_one(tools: list[Body], length: float, ends: str) -> None:
    (found,) = [f for f in recesses(cut(block(z=40), tools)) if f.class_ != "round_hole"]
    assert (found.class_, found.ends, found.access) == ("slot", ends, ())
    assert "T-slot" in (found.undercut or "") and found.placement.axis == UP
    assert (found.length, found.width, found.depth) == pytest.approx((length, 22, 29))


def test_a_window_over_a_passage_is_no_t_slot() -> None:
    found = recesses(cut(block(z=40), [box((40, 20, 20), (60, 40, 41)), box((-1, 10, 10), (101, 50, 20))]))
    assert [f.class_ for f in found] == ["closed_pocket"] * 2
    assert sorted(f.depth or 0 for f in found) == pytest.approx([20, 100])


def test_a_gap_in_the_low_wall_between_pockets_is_no_neck() -> None:
    """A cutter from above makes all: two pockets, one with a stepped corner, and the gap, flush with that, in between.

    Seen along the gap the pocket is wider than the gap, as the foot of a T-slot is.
    """
    stepped = [box((8, 10, 4), (45, 43, 21)), box((8, 10, 4), (35, 50, 21))]
    found = recesses(cut(block(), [*stepped, box((55, 10, 4), (92, 50, 21)), box((44, 15, 12), (56, 43, 21))]))
    assert len(found) > 1 and all(UP in f.access and f.undercut is None for f in found)


def test_walls_round_a_post_under_an_overhang_are_steps() -> None:
    """16 x 8 at the edge of a higher floor, 12 from both sides and 4 from the back, 80 high under a plate."""
    solids = [box((0, 0, 0), (40, 36, 10)), box((12, 24, 9), (28, 32, 90)), drill(20, 28, 90, 100, 8)]
    body = cut(fuse([*solids, box((0, 0, 100), (40, 36, 116))]), [box((-1, -1, 8), (41, 24, 20))])
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature", "boss")]
    assert {f.class_ for f in found} == {"step"}
    told = sorted(tuple(round(v or 0, 6) for v in (f.depth, f.length, f.width, f.placement.axis[0])) for f in found)
    assert told == [(4, 16, 80, 0), (12, 8, 80, -1), (12, 8, 80, 1), (24, 40, 82, 0)]
    same_when_rewritten(body, 2)


def test_a_corner_cut_through_a_steps_floor_is_as_wide_as_it_is() -> None:
    """20 x 20, its inner corner rounded by 5: what it shares with the step's wall counts as far as it goes."""
    body = cut(block(), [box((-1, -1, 12), (101, 20, 21)), pocket((80, -11, -1), (111, 20, 21), 5)])
    found = [f for f in recognise(body) if f.class_ == "step" and f.orthogonal_radius]
    assert [(f.length, f.width) for f in found] == [(pytest.approx(20), pytest.approx(20))]


@pytest.mark.parametrize("name", ["width", "length", "depth"])
def test_nothing_without_a_size_is_told_as_a_slot(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    shape = part_shape(face_graph(cut(block(), [box((-1, 20, 12), (101, 30, 21))])))
    drafts = assemble.drafts_of(shape)
    next(d for d in drafts if d.class_ == "slot").sizes[name] = 1e-9
    monkeypatch.setattr(assemble, "drafts_of", lambda _: drafts)
    assert {f.class_ for f in assemble.features_of(shape)} == {"planar_face", "profile_feature", "region"}


@pytest.mark.parametrize("corner", [0.0, 4.0])
@pytest.mark.parametrize(
    ("low", "high", "from_x", "size"),
    [
        (31, 41, 50, (10, 5)),  # flush with one wall, out on one side
        (31, 41, -1, (10, 5)),  # out on both
        (15, 41, 50, (26, 5)),  # as wide as the pocket
    ],
)
def test_a_pocket_that_a_window_from_aside_is_flush_with_keeps_its_floor_and_size(
    low: float, high: float, from_x: float, size: tuple[float, float], corner: float
) -> None:
    """35 x 26, 12 deep in 80 x 60 x 20; the window's sill stands 2 above the floor, it is 5 high."""
    hollow = pocket((20, 15, 8), (55, 41, 21), corner) if corner else box((20, 15, 8), (55, 41, 21))
    body = cut(block(80, 60, 20), [hollow, box((from_x, low, 10), (81, high, 15))])
    window, sunk = recesses(body)
    assert (sunk.class_, sunk.bottom, sunk.open_sides, sunk.access) == ("closed_pocket", "planar", 0, (UP,))
    assert (sunk.length, sunk.width, sunk.depth) == pytest.approx((35, 26, 12))
    assert (window.class_, window.bottom) == ("closed_pocket", "through")
    assert (window.length, window.width) == pytest.approx(size)
    alone = recesses(cut(block(80, 60, 20), [hollow]))[0]
    assert sunk.id == alone.id


@pytest.mark.parametrize(("x", "y", "deep", "sill"), [(18, 10, 7, 0.5), (75, 56, 35, 1.0)])
def test_so_does_one_of_another_size_however_it_is_written(x: float, y: float, deep: float, sill: float) -> None:
    tools = [box((10, 10, 0), (10 + x, 10 + y, deep + 1)), box((5, 10, sill), (x + 40, 10 + y / 4, deep / 2))]
    plain = cut(box((0, 0, -5), (x + 30, y + 20, deep)), tools)
    for body in (plain, reencoded(plain, 4)[0], reordered(plain, 2)):
        window, sunk = recesses(body)
        assert (sunk.bottom, sunk.length, sunk.width, sunk.depth) == (
            "planar",
            *(pytest.approx(v) for v in (x, y, deep)),
        )
        assert sorted((window.length or 0, window.width or 0)) == pytest.approx(sorted((y / 4, deep / 2 - sill)))


SILLS = {
    "one": ([box((40, -1, 8), (60, 20, 14))], [(20, 6, 15)]),
    "right across": ([box((40, -1, 8), (60, 61, 14))], [(20, 6, 60)]),
    "one a side": ([box((40, -1, 8), (60, 20, 14)), box((-1, 25, 8), (35, 35, 12))], [(20, 6, 15), (10, 4, 30)]),
}


@pytest.mark.parametrize("corner", [0.0, 4.0])
@pytest.mark.parametrize(("windows", "sizes"), SILLS.values(), ids=SILLS)
def test_a_window_whose_sill_is_level_with_a_pockets_floor(
    corner: float, windows: list[Body], sizes: list[tuple[float, float, float]]
) -> None:
    """The pocket keeps its floor, and is closed below the roof; the window goes through the wall alone."""
    body = cut(block(), [pocket((30, 15, 8), (70, 45, 21), corner), *windows])
    found = [f for f in recognise(body) if f.class_ == "closed_pocket"]
    (sunk,) = [f for f in found if f.placement.axis[2] > 0.5]
    assert (sunk.length, sunk.width, sunk.depth) == pytest.approx((40, 30, 12))
    assert (sunk.bottom, sunk.open_sides, sunk.access) == ("planar", 0, ((0.0, 0.0, 1.0),))
    others = [(f.length, f.width, f.depth) for f in found if f is not sunk]
    assert sorted(others) == [pytest.approx(size) for size in sorted(sizes)]
    assert all(f.bottom == "through" for f in found if f is not sunk)
    assert {f.class_ for f in recognise(body)} == {"planar_face", "profile_feature", "closed_pocket"}
    same_when_rewritten(body, 4)


def test_such_a_window_with_round_ends() -> None:
    """10 between the middles of ends of radius 3."""
    ends = [cylinder((x, -1, 11), (x, 20, 11), 6) for x in (45, 55)]
    body = cut(block(), [pocket((30, 15, 8), (70, 45, 21)), fuse([box((45, -1, 8), (55, 20, 14)), *ends])])
    (found,) = [f for f in recognise(body) if f.class_ == "slot"]
    assert (found.length, found.width, found.depth) == pytest.approx((16, 6, 15))
    assert (found.ends, found.bottom) == ("radiused radiused", "through")
