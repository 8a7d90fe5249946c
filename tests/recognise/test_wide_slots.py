"""Wide slots over and across T-slots and dovetails, and plain slots on their floor: sizes and volumes as built."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from schemas.base import Vec3
from schemas.feature import Feature
from tests.recognise.parts import Choice, block, chamfered, drill, pocket, prism, rounded
from tests.recognise.test_channels import X_WAYS, along_x, along_y, dovetail, recesses, sizes
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.measure import volume
from worker.kernel.primitives import box
from worker.kernel.shape import Body

WIDE = box((-1, 15, 30), (101, 45, 41))
TEE, TAIL = along_x(-1, 101), [dovetail(X_WAYS, 40, -1, 101)]


def sorted_out(body: Body) -> tuple[list[Feature], list[Feature]]:
    """Undercuts and all else, longest first."""
    found = sorted(recesses(body), key=lambda f: -(f.length or 0))
    return [f for f in found if f.undercut], [f for f in found if not f.undercut]


@pytest.mark.parametrize(
    ("wide", "below", "wanted", "removed"),
    [
        (WIDE, TEE, (100, 30, 10), 100 * (30 * 10 + 12 * 10 + 22 * 9)),
        (box((-1, 22, 30), (101, 55, 41)), TEE, (100, 33, 10), 100 * (33 * 10 + 12 * 10 + 22 * 9)),  # not in its middle
        (pocket((-5, 15, 30), (105, 45, 41), 0, 2), TEE, (100, 30, 10), None),  # with rounds at the foot of its walls
        # 15 deep and 16 to 36 wide, its uppermost 6 within the slot: 24 wide where that ends
        (box((-1, 14, 34), (101, 46, 41)), TAIL, (100, 32, 6), 100 * (32 * 6 + 9 * (24 + 36) / 2)),
        (WIDE, [box((-1, 24, 20), (101, 36, 41))], (100, 30, 10), 100 * (30 * 10 + 12 * 10)),  # over a plain slot
        (WIDE, [prism([(24, 31), (36, 31), (30, 19)], -1, 101)], (100, 30, 10), 100 * (30 * 10 + 11 * 11 / 2)),
    ],
)
def test_a_wide_slot_along_a_narrower_one_is_one_slot(
    wide: Body, below: list[Body], wanted: tuple[float, ...], removed: float | None
) -> None:
    body = cut(block(z=40), [wide, *below])
    undercut, plain = sorted_out(body)
    found = max(plain, key=lambda f: f.width or 0)
    assert (len(undercut) + len(plain), found.class_, found.ends, found.open_sides) == (2, "slot", "open open", 2)
    assert sizes(found) == pytest.approx(wanted) and len(found.access) == 3
    if removed:
        assert 100 * 60 * 40 - volume(body) == pytest.approx(removed)


@pytest.mark.parametrize(
    ("across", "widths"),
    [
        (box((40, -1, 5), (60, 61, 41)), [(100, 30, 10), (60, 20, 35)]),  # divides all
        (box((40, -1, 30), (60, 61, 41)), [(100, 30, 10), (60, 20, 10)]),  # on the wide slot's own floor
        (box((40, -1, 11), (60, 61, 41)), [(100, 30, 10), (60, 20, 29)]),  # on the T-slot's
    ],
)
def test_what_crosses_a_wide_slot_over_a_t_slot_divides_neither(across: Body, widths: list[Vec3]) -> None:
    body = cut(block(z=40), [WIDE, *TEE, across])
    (undercut,), plain = sorted_out(body)
    assert sizes(undercut) == pytest.approx((100, 22, 19)) and (undercut.ends, undercut.open_sides) == ("open open", 2)
    assert [sizes(f) for f in plain] == [pytest.approx(w) for w in widths]
    assert {(f.class_, f.ends) for f in plain} == {("slot", "open open")}
    same_when_rewritten(body, 5)


def test_ledges_that_face_each_other_over_metal_or_lie_apart_are_steps() -> None:
    """At the corners of a block; and of one level on both sides of a ridge: nothing runs in their middle."""
    ridge = cut(block(z=40), [box((-1, -1, 30), (101, 10, 41)), box((-1, 50, 30), (101, 61, 41))])
    assert [f.class_ for f in recesses(ridge)] == ["step", "step"]
    tops = [box((-1, 15, 30), (40, 24, 41)), box((60, 36, 30), (101, 45, 41))]
    apart = cut(block(z=40), [*tops, box((-1, 24, 20), (101, 36, 41))])
    assert sorted(f.class_ for f in recesses(apart)) == ["slot", "step", "step"]


@pytest.mark.parametrize(
    ("below", "across", "wanted", "class_", "ends"),
    [
        (TEE, box((40, -1, 11), (60, 61, 41)), (60, 20, 29), "slot", "open open"),
        (TAIL, box((45, -1, 25), (60, 61, 41)), (60, 15, 15), "slot", "open open"),
        (TEE, box((30, -1, 11), (70, 61, 41)), (60, 40, 29), "slot", "open open"),  # not long for its width
        (TEE, box((40, -1, 11), (60, 50, 41)), (50, 20, 29), "slot", "open flat"),
        (TEE, pocket((40, -5, 11), (60, 65, 41), 0, 2), (60, 20, 29), "slot", "open open"),
        (TEE, box((40, 5, 11), (60, 55, 41)), (50, 20, 29), "closed_pocket", None),
        (TAIL, pocket((35, 5, 25), (65, 55, 41), 4, 2), (50, 30, 15), "closed_pocket", None),
        (along_x(50, 101), box((40, -1, 11), (60, 61, 41)), (60, 20, 29), "slot", "open open"),  # begins in it
        (along_x(-1, 60), box((50, 5, 11), (80, 55, 41)), (50, 30, 29), "closed_pocket", None),  # ends in it
        (TAIL, box((60, -1, 25), (101, 61, 41)), (60, 40, 15), "step", None),  # runs out of it
    ],
)
def test_plain_recesses_on_the_floor_of_an_undercut_are_whole(
    below: list[Body], across: Body, wanted: tuple[float, ...], class_: str, ends: str | None
) -> None:
    body = cut(block(z=40), [*below, across])
    (undercut,), (found,) = sorted_out(body)
    assert undercut.class_ == "slot" and undercut.width in (pytest.approx(22), pytest.approx(36))
    assert (found.class_, found.ends) == (class_, ends) and (0.0, 0.0, 1.0) in found.access
    assert sizes(found) == pytest.approx(wanted)
    assert found.open_sides == (ends.count("open") if ends else {"closed_pocket": 0, "step": 3}[class_])


def test_two_slots_on_the_floor_of_a_t_slot() -> None:
    body = cut(block(z=40), [*TEE, box((15, -1, 11), (35, 61, 41)), box((60, -1, 11), (75, 61, 41))])
    (undercut,), plain = sorted_out(body)
    assert sizes(undercut) == pytest.approx((100, 22, 29))
    assert sorted(f.width or 0 for f in plain) == pytest.approx([15, 20])
    same_when_rewritten(body, 2)


@pytest.mark.parametrize("breaks", [chamfered, rounded])
@pytest.mark.parametrize("divides", [None, box((45, -1, 10), (60, 61, 41)), drill(50, 30, -1, 41, 40)])
@pytest.mark.parametrize(("below", "edge", "wanted"), [(TEE, 6, (100, 22, 29)), (TAIL, 8, (100, 36, 15))])
def test_a_broken_mouth_takes_nothing_from_an_undercut(
    breaks: Callable[[Body, float, Choice], Body], divides: Body | None, below: list[Body], edge: float, wanted: Vec3
) -> None:
    """Its depth is counted from the surface, as any slot's; pieces of it are still one."""

    def at_mouth(a: Vec3, b: Vec3) -> bool:
        return abs(a[2] - 40) + abs(b[2] - 40) < 1e-6 and abs(abs(a[1] - 30) - edge) + abs(abs(b[1] - 30) - edge) < 1e-6

    body = breaks(cut(block(z=40), [*below, *([divides] if divides else [])]), 1.0, at_mouth)
    (undercut,), _ = sorted_out(body)
    assert sizes(undercut) == pytest.approx(wanted)
    assert (undercut.ends, undercut.open_sides) == ("open open", 2)


def test_wide_slots_that_cross_over_t_slots_that_cross() -> None:
    body = cut(block(z=40), [WIDE, box((35, -1, 30), (65, 61, 41)), *TEE, *along_y(-1, 61)])
    undercuts, plain = sorted_out(body)
    assert [sizes(f) for f in undercuts] == [pytest.approx((100, 22, 19)), pytest.approx((60, 22, 19))]
    assert [sizes(f) for f in plain] == [pytest.approx((100, 30, 10)), pytest.approx((60, 30, 10))]


@pytest.mark.parametrize(
    ("across", "class_", "length"),
    [
        (fuse([box((40, 17, 14), (50, 43, 21)), *(drill(45, y, 14, 21, 10) for y in (17, 43))]), "slot", 36),
        (box((40, 7, 14), (50, 53, 21)), "closed_pocket", 46),
        (box((40, -1, 14), (50, 61, 21)), "slot", 60),
    ],
)
def test_what_crosses_a_wide_slot_at_its_depth_is_one_over_a_narrower_one(
    across: Body, class_: str, length: float
) -> None:
    """Beside the middle of the part, so that the middle of what is left of the floor lies in metal on both sides."""
    found = recesses(cut(block(), [box((-1, 20, 14), (101, 40, 21)), box((-1, 27, 8), (101, 33, 21)), across]))
    narrow, wide, other = sorted(found, key=lambda f: (f.placement.location[2], -(f.length or 0)))
    assert (narrow.length, narrow.width, narrow.depth) == pytest.approx((100, 6, 6))
    assert (wide.class_, wide.length, wide.width, wide.depth) == ("slot", *map(pytest.approx, (100, 20, 6)))
    assert (other.class_, other.length, other.width, other.depth) == (class_, *map(pytest.approx, (length, 10, 6)))
