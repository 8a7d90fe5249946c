"""T-slots and dovetails that cross each other, or lie in pockets, steps and slots: sizes as built."""

from __future__ import annotations

import pytest

from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.planar import polygon
from worker.kernel.primitives import box
from worker.kernel.shape import Body
from worker.kernel.sweep import prism

UP = (0.0, 0.0, 1.0)


def along_x(x0: float, x1: float, neck: float = 12, foot: float = 22, low: float = 11, roof: float = 20) -> list[Body]:
    """A T-slot along y = 30."""
    return [
        box((x0, 30 - neck / 2, roof), (x1, 30 + neck / 2, 41)),
        box((x0, 30 - foot / 2, low), (x1, 30 + foot / 2, roof)),
    ]


def along_y(y0: float, y1: float, neck: float = 12, foot: float = 22, low: float = 11, roof: float = 20) -> list[Body]:
    """A T-slot along x = 50."""
    return [
        box((50 - neck / 2, y0, roof), (50 + neck / 2, y1, 41)),
        box((50 - foot / 2, y0, low), (50 + foot / 2, y1, roof)),
    ]


def dovetail(frame: Frame, top: float, start: float, end: float) -> Body:
    """16 wide at its mouth, 36 at its floor, 15 lower; ``frame``: across, down, along."""
    outline = ((-8.0, -top - 1), (8.0, -top - 1), (8.0, -top), (18.0, 15 - top), (-18.0, 15 - top), (-8.0, -top))
    return prism(polygon(outline), frame, start, end)


X_WAYS = Frame(location=(0, 30, 0), axis=(1, 0, 0), ref_direction=(0, -1, 0))
Y_WAYS = Frame(location=(50, 0, 0), axis=(0, 1, 0), ref_direction=(1, 0, 0))


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]


def undercuts(body: Body, kind: str) -> list[Feature]:
    """Those of a kind, longest first."""
    found = [f for f in recesses(body) if (f.undercut or "").startswith(kind)]
    assert all(f.class_ == "slot" and f.access == () and f.placement.axis[2] == pytest.approx(1) for f in found)
    return sorted(found, key=lambda f: -(f.length or 0))


def sizes(found: Feature) -> tuple[float | None, ...]:
    return (found.length, found.width, found.depth)


@pytest.mark.parametrize(
    ("across", "wanted"),
    [
        (along_y(-1, 61), (60, 22, 29)),
        (along_y(-1, 61, low=6, roof=17), (60, 22, 34)),  # deeper
        (along_y(-1, 61, neck=10, foot=18, roof=18), (60, 18, 29)),  # smaller, on the same floor
        (along_y(30, 61), (19, 22, 29)),  # beginning in the other: of its foot 60 - 41 is left
    ],
)
def test_t_slots_that_meet_are_two(across: list[Body], wanted: tuple[float, ...]) -> None:
    body = cut(block(z=40), [*along_x(-1, 101), *across])
    assert len(recesses(body)) == 2
    first, second = undercuts(body, "T-slot")
    assert sizes(first) == pytest.approx((100, 22, 29)) and sizes(second) == pytest.approx(wanted)
    assert [(f.ends, f.open_sides) for f in (first, second)] == [("open open", 2)] * 2
    same_when_rewritten(body, 4)


@pytest.mark.parametrize(("start", "length", "ends"), [(-1.0, 100, "open open"), (40.0, 60, "open flat")])
def test_a_dovetail_of_which_one_side_stands_upright(start: float, length: float, ends: str) -> None:
    """16 wide at its mouth, 26 at its floor, 15 lower."""
    outline = ((-8.0, -41.0), (8.0, -41.0), (8.0, -40.0), (18.0, -25.0), (-8.0, -25.0))
    body = cut(block(z=40), [prism(polygon(outline), X_WAYS, start, 101)])
    (found,) = undercuts(body, "dovetail")
    assert sizes(found) == pytest.approx((length, 26, 15)) and found.ends == ends
    same_when_rewritten(body, 1)


def test_a_short_wide_dovetail_is_no_pocket_from_its_end() -> None:
    """60 long and 34 wide at its mouth, but 7 deep: no straight cutter that goes in there reaches so far."""
    outline = ((-17.0, -41.0), (17.0, -41.0), (17.0, -40.0), (21.0, -33.0), (-17.0, -33.0))
    (found,) = undercuts(cut(block(x=60, z=40), [prism(polygon(outline), X_WAYS, -1, 61)]), "dovetail")
    assert sizes(found) == pytest.approx((60, 38, 7))


def test_dovetails_that_cross_are_two() -> None:
    body = cut(block(z=40), [dovetail(X_WAYS, 40, -1, 101), dovetail(Y_WAYS, 40, -1, 61)])
    first, second = undercuts(body, "dovetail")
    assert sizes(first) == pytest.approx((100, 36, 15)) and sizes(second) == pytest.approx((60, 36, 15))
    assert len(recesses(body)) == 2
    same_when_rewritten(body, 2)


@pytest.mark.parametrize("depth", [10, 25, 35])
def test_a_slot_across_a_t_slot_divides_it_in_no_two(depth: float) -> None:
    """Through its neck, down into its foot, and below its floor."""
    body = cut(block(z=40), [*along_x(-1, 101), box((40, -1, 40 - depth), (60, 61, 41))])
    (found,) = undercuts(body, "T-slot")
    assert sizes(found) == pytest.approx((100, 22, 29))
    (plain,) = [f for f in recesses(body) if not f.undercut]
    assert (plain.class_, plain.ends) == ("slot", "open open")
    assert sizes(plain) == pytest.approx((60, 20, depth)) and UP in plain.access
    same_when_rewritten(body, 1)


@pytest.mark.parametrize(
    ("tools", "length", "ends"),
    [
        (along_x(30, 70), 40, "flat flat"),
        (along_x(10, 90), 80, "flat flat"),  # from wall to wall
        (along_x(-1, 101), 100, "open open"),
        ([obround(30, 70, 30, 11, 20, 22), obround(30, 70, 30, 19, 41, 12)], 62, "radiused radiused"),
    ],
)
def test_a_t_slot_in_a_pocket(tools: list[Body], length: float, ends: str) -> None:
    body = cut(block(z=40), [box((10, 10, 30), (90, 50, 41)), *tools])
    (found,) = undercuts(body, "T-slot")
    assert found.ends == ends
    assert (found.length, found.width) == pytest.approx((length, 22))
    assert found.depth == pytest.approx(29 if length == 100 else 19)
    (pocket,) = [f for f in recesses(body) if not f.undercut]
    assert (pocket.class_, pocket.open_sides, pocket.access) == ("closed_pocket", 0, (UP,))
    assert sizes(pocket) == pytest.approx((80, 40, 10))
    same_when_rewritten(body, 1)


def test_crossing_t_slots_in_a_pocket() -> None:
    body = cut(block(z=40), [box((5, 5, 30), (95, 55, 41)), *along_x(5, 95), *along_y(5, 55)])
    first, second = undercuts(body, "T-slot")
    assert sizes(first) == pytest.approx((90, 22, 19)) and sizes(second) == pytest.approx((50, 22, 19))
    (pocket,) = [f for f in recesses(body) if not f.undercut]
    assert (pocket.class_, pocket.access) == ("closed_pocket", (UP,))
    assert sizes(pocket) == pytest.approx((90, 50, 10))
    same_when_rewritten(body, 6)


def test_a_dovetail_in_a_pocket_and_in_a_slot() -> None:
    body = cut(block(z=40), [box((10, 5, 30), (90, 55, 41)), dovetail(X_WAYS, 30, 10, 90)])
    (found,) = undercuts(body, "dovetail")
    assert sizes(found) == pytest.approx((80, 36, 15)) and found.ends == "flat flat"
    assert [sizes(f) for f in recesses(body) if not f.undercut] == [pytest.approx((80, 50, 10))]
    open_ = cut(block(z=40), [box((-1, 10, 30), (101, 50, 41)), dovetail(X_WAYS, 30, -1, 101)])
    (found,) = undercuts(open_, "dovetail")
    assert sizes(found) == pytest.approx((100, 36, 15)) and found.ends == "open open"


def test_a_t_slot_in_a_step() -> None:
    body = cut(block(z=40), [box((-1, 10, 30), (101, 61, 41)), *along_x(30, 101)])
    (found,) = undercuts(body, "T-slot")
    assert sizes(found) == pytest.approx((70, 22, 19)) and (found.ends, found.open_sides) == ("open flat", 1)
    (step,) = [f for f in recesses(body) if not f.undercut]
    assert step.class_ == "step" and sizes(step) == pytest.approx((100, 50, 10))
    same_when_rewritten(body, 3)


def test_a_dovetail_that_ends_in_a_pocket() -> None:
    body = cut(block(z=40), [dovetail(X_WAYS, 40, -1, 60), box((50, 5, 15), (80, 55, 41))])
    (found,) = undercuts(body, "dovetail")
    assert sizes(found) == pytest.approx((50, 36, 15)) and found.ends == "open open"
    (pocket,) = [f for f in recesses(body) if not f.undercut]
    assert (pocket.class_, pocket.access) == ("closed_pocket", (UP,))
    assert sizes(pocket) == pytest.approx((50, 30, 25))
    same_when_rewritten(body, 5)


def test_a_place_to_let_the_cutter_in_divides_no_t_slot() -> None:
    body = cut(block(z=40), [*along_x(-1, 101), drill(50, 30, 11, 41, 24)])
    (found,) = undercuts(body, "T-slot")
    assert sizes(found) == pytest.approx((100, 22, 29))
    (hole,) = [f for f in recesses(body) if not f.undercut]
    assert (hole.class_, hole.diameter, hole.depth) == ("round_hole", pytest.approx(24), pytest.approx(29))


def test_windows_over_a_wide_passage_are_no_neck() -> None:
    """Two, all but as long as the passage together: between them stands metal."""
    windows = [box((2, 24, 20), (48, 36, 41)), box((52, 24, 20), (98, 36, 41))]
    assert undercuts(cut(block(z=40), [*windows, box((-1, 19, 11), (101, 41, 20))]), "T-slot") == []


@pytest.mark.parametrize(
    ("cuts", "slots"),
    [
        ([box((45, -1, 10), (60, 61, 41))], [(60, 15, 30)]),
        ([box((25, -1, 10), (35, 61, 41)), box((65, -1, 20), (75, 61, 41))], [(60, 10, 20), (60, 10, 30)]),
        ([box((45, -1, -1), (60, 61, 28))], [(60, 15, 28)]),  # from below, through its floor alone
    ],
)
@pytest.mark.parametrize(("start", "length", "ends"), [(-1, 100, "open open"), (15, 85, "open flat")])
def test_deep_slots_across_a_dovetail_divide_it_in_no_two(
    cuts: list[Body], slots: list[tuple[float, ...]], start: float, length: float, ends: str
) -> None:
    body = cut(block(z=40), [dovetail(X_WAYS, 40, start, 101), *cuts])
    (found,) = undercuts(body, "dovetail")
    assert sizes(found) == pytest.approx((length, 36, 15))
    assert (found.ends, found.open_sides) == (ends, ends.split().count("open"))
    plain = [f for f in recesses(body) if not f.undercut]
    assert [(f.class_, f.ends) for f in plain] == [("slot", "open open")] * len(slots)
    assert sorted(sizes(f) for f in plain) == [pytest.approx(s) for s in slots]
    same_when_rewritten(body, 7)


@pytest.mark.parametrize("divides", [box((40, 5, 10), (65, 55, 41)), drill(50, 30, -1, 41, 40)])
def test_a_deep_pocket_or_hole_divides_a_dovetail_in_no_two(divides: Body) -> None:
    body = cut(block(z=40), [dovetail(X_WAYS, 40, -1, 101), divides])
    (found,) = undercuts(body, "dovetail")
    assert sizes(found) == pytest.approx((100, 36, 15)) and found.ends == "open open"
    assert [f.class_ for f in recesses(body) if not f.undercut] in (["closed_pocket"], ["round_hole"])
    same_when_rewritten(body, 3)


@pytest.mark.parametrize(
    "opens",
    [
        box((-1, 28, 24), (101, 32, 41)),  # both sides run into its upright walls
        box((-1, 27, 24), (101, 29, 41)),  # beside the ridge
        box((-1, -1, 22), (101, 30, 41)),  # up to the ridge: one side has its edge in the step's floor
    ],
)
def test_a_three_cornered_passage_cut_open_and_divided_is_no_dovetail(opens: Body) -> None:
    """30 wide, 10 high, its ridge 10 below the top; a plain slot 15 wide divides it."""
    passage = prism(polygon(((-15.0, -20.0), (15.0, -20.0), (0.0, -30.0))), X_WAYS, -1, 101)
    body = cut(block(z=40), [passage, opens, box((45, -1, 10), (60, 61, 41))])
    assert undercuts(body, "dovetail") == []


@pytest.mark.parametrize("deep", [14.0, 24.0])
def test_a_deep_pocket_with_a_narrow_slot_through_its_walls_is_no_t_slot_along_its_depth(deep: float) -> None:
    """90 x 40 round an island of 24 x 20, under a slot of 6 along all of X: its foot would be the pocket, 40 wide."""
    pocket = cut(box((5, 10, 30 - deep), (95, 50, 31)), [box((38, 20, -1), (62, 40, 30))])
    body = cut(block(z=30), [pocket, box((-1, 27, 34 - deep), (101, 33, 31))])
    found = sorted((f.class_, f.width, f.depth or f.height, f.length) for f in recesses(body))
    assert found == [
        ("boss", pytest.approx(20), pytest.approx(deep), pytest.approx(24)),
        ("closed_pocket", pytest.approx(40), pytest.approx(deep), pytest.approx(90)),
        ("slot", pytest.approx(6), pytest.approx(deep - 4), pytest.approx(100)),
    ]


def test_a_pocket_across_a_small_t_slot_is_no_channel_along_its_depth() -> None:
    """33 x 10 and as deep, its end wall just beyond the foot: seen from the T-slot's ends it looks like one."""
    tools = along_x(-1, 101, neck=6, foot=12, low=15, roof=18)
    body = cut(block(z=40), [*tools, box((55, 3.1, 15), (65, 36.1, 41))])
    (found,), (pocket,) = undercuts(body, "T-slot"), [f for f in recesses(body) if not f.undercut]
    assert sizes(found) == pytest.approx((100, 12, 25))
    assert pocket.class_ == "closed_pocket" and sizes(pocket) == pytest.approx((33, 10, 25))


def test_a_pocket_that_ends_over_a_foot_gives_a_t_slot_no_second_neck() -> None:
    tools = along_x(-1, 101, neck=8, foot=14, low=15, roof=18)
    body = cut(block(z=40), [*tools, box((54, 9, 15), (61, 36.4, 41))])
    (found,) = undercuts(body, "T-slot")
    assert sizes(found) == pytest.approx((100, 14, 25))
    same_when_rewritten(body, 2)


def test_a_dovetail_flush_with_a_wall_of_the_slot_it_lies_in_is_one() -> None:
    """Its mouth from y = 22 to 38, in the floor of a slot from there to 50: one side runs up to the slot's wall."""
    body = cut(block(z=40), [dovetail(X_WAYS, 34, -1, 101), box((-1, 22, 34), (101, 50, 41))])
    (found,) = undercuts(body, "dovetail")
    assert sizes(found) == pytest.approx((100, 36, 15)) and found.ends == "open open"
    assert found.placement.location == pytest.approx((50, 30, 34))
    same_when_rewritten(body, 3)


@pytest.mark.parametrize(
    ("deeper", "wanted"),
    [
        (box((50, 19, 15), (101, 41, 24)), [(100, 22, 29, "open open")]),  # its roof: 20 and 24 high
        (box((40, 30, 15), (60, 41, 23)), [(100, 22, 29, "open open")]),  # on one side, for a stretch
        (box((50, 19, 7), (101, 41, 20)), [(50, 22, 29, "open open"), (50, 22, 33, "open flat")]),  # its floor
        (box((40, 15, 11), (101, 45, 20)), [(40, 22, 29, "open open"), (60, 30, 29, "open flat")]),  # its sides
    ],
)
def test_a_t_slot_whose_foot_changes_along_its_course(
    deeper: Body, wanted: list[tuple[float, float, float, str]]
) -> None:
    body = cut(block(z=40), [*along_x(-1, 101), deeper])
    found = sorted((*sizes(f), f.ends) for f in undercuts(body, "T-slot"))
    assert [f[:3] for f in found] == [pytest.approx(w[:3]) for w in wanted]
    assert [f[3] for f in found] == [w[3] for w in wanted] and len(recesses(body)) == len(wanted)
    same_when_rewritten(body, 5)


@pytest.mark.parametrize(
    ("start", "pocket", "depth", "length", "ends"),
    [
        (60, (60, 90, 11), 29, 60, "open open"),
        (60, (60, 90, 5), 35, 60, "open open"),
        (60, (60, 90, 15), 25, 60, "open flat"),
        (101, (40, 65, 11), 29, 100, "open open"),  # somewhere in its course
    ],
)
def test_a_pocket_as_wide_as_the_foot_lets_the_cutter_in(
    start: float, pocket: tuple[float, float, float], depth: float, length: float, ends: str
) -> None:
    a, b, low = pocket
    body = cut(block(z=40), [*along_x(-1, start), box((a, 19, low), (b, 41, 41))])
    (found,) = undercuts(body, "T-slot")
    assert sizes(found) == pytest.approx((length, 22, 29)) and found.ends == ends
    (plain,) = [f for f in recesses(body) if not f.undercut]
    assert plain.class_ in ("closed_pocket", "open_pocket") and plain.access == (UP,)
    assert sizes(plain) == pytest.approx((max(b - a, 22), min(b - a, 22), depth))


def test_a_wide_pocket_that_a_t_slot_ends_in_above_its_floor_is_none() -> None:
    """40 x 30, 25 deep: with the mouth of 12 in its wall it is no T-slot that stands upright."""
    body = cut(block(z=40), [*along_x(-1, 60), box((60, 10, 15), (90, 50, 41))])
    (found,) = undercuts(body, "T-slot")
    assert sizes(found) == pytest.approx((60, 22, 29)) and found.ends == "open flat"
    (pocket,) = [f for f in recesses(body) if not f.undercut]
    assert pocket.class_ == "closed_pocket" and sizes(pocket) == pytest.approx((40, 30, 25)) and pocket.access == (UP,)


@pytest.mark.parametrize(
    ("window", "wanted", "ways"),
    [
        (box((40, -1, 11), (50, 20, 20)), (10, 9, 19), 1),  # as high as the foot
        (box((40, -1, 11), (50, 61, 20)), (10, 9, 60), 2),  # and across it
        (box((40, -1, 11), (50, 20, 18)), (10, 7, 19), 1),  # on its floor
        (box((40, -1, 13), (50, 20, 20)), (10, 7, 19), 1),  # under its roof
    ],
)
def test_a_window_from_the_side_into_a_t_slots_foot_is_seen_from_there(
    window: Body, wanted: tuple[float, ...], ways: int
) -> None:
    """The T-slot's foot begins 19 inside the block, which is 60 wide."""
    body = cut(block(z=40), [*along_x(-1, 101), window])
    (pocket,) = [f for f in recesses(body) if not f.undercut]
    assert pocket.class_ == "closed_pocket" and sizes(pocket) == pytest.approx(wanted)
    assert [abs(way[1]) for way in pocket.access] == pytest.approx([1.0] * ways)
    assert [sizes(f) for f in undercuts(body, "T-slot")] == [pytest.approx((100, 22, 29))]
    same_when_rewritten(body, 2)
