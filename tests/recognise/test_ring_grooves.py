"""Grooves round an axis, outside and inside: sizes are those they were built with."""

from __future__ import annotations

import pytest

from bench.rewrites import reordered, turned_over, with_slivers
from schemas.base import Frame, Vec3
from schemas.feature import Feature
from tests.recognise.parts import block, drill, obround, ring
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, cone, cylinder, revolve_profile
from worker.kernel.shape import Body

UP = (0.0, 0.0, 1.0)
BOSS = drill(50, 30, 10, 40, 30)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


def sleeve(start: Vec3, end: Vec3, diameter: float) -> Body:
    """What a grooving tool takes: all outside of a diameter, between two planes square to the axis."""
    far = tuple(b + (b - a) for a, b in zip(start, end, strict=True))
    near = tuple(a - (b - a) for a, b in zip(start, end, strict=True))
    return cut(cylinder(start, end, 60), [cylinder(near, far, diameter)])  # type: ignore[arg-type]


def test_a_groove_round_a_boss_is_an_undercut_slot_and_the_boss_is_whole() -> None:
    body = cut(fuse([block(z=10), BOSS]), [sleeve((50, 30, 20), (50, 30, 26), 22)])
    (groove,) = of_class(body, "slot")
    assert (groove.diameter, groove.width, groove.ends) == (pytest.approx(22), pytest.approx(6), "loop")
    assert groove.course_of_travel == "circular" and groove.access == () and "ring groove" in (groove.undercut or "")
    assert groove.placement.location == pytest.approx((50, 30, 23))
    (boss,) = of_class(body, "boss")
    assert (boss.diameter, boss.height, boss.access) == (pytest.approx(30), pytest.approx(30), (UP,))
    assert boss.placement.location == pytest.approx((50, 30, 40)) and not set(boss.faces) & set(groove.faces)
    assert [f for f in recognise(body) if f.class_ == "region" or (f.class_ == "planar_face" and not f.access)] == []


def test_two_grooves_leave_one_boss() -> None:
    tools = [sleeve((50, 30, 15), (50, 30, 18), 22), sleeve((50, 30, 26), (50, 30, 30), 24)]
    body = cut(fuse([block(z=10), BOSS]), tools)
    assert sorted((f.width, f.diameter) for f in of_class(body, "slot")) == [
        pytest.approx((3, 22)),
        pytest.approx((4, 24)),
    ]
    assert [f.height for f in of_class(body, "boss")] == pytest.approx([30])


def test_a_groove_round_a_lying_boss_is_one_too() -> None:
    body = cut(
        fuse([block(x=10, z=60), cylinder((10, 30, 30), (40, 30, 30), 30)]), [sleeve((20, 30, 30), (26, 30, 30), 22)]
    )
    (groove,) = of_class(body, "slot")
    assert (groove.diameter, groove.width) == pytest.approx((22, 6)) and groove.placement.axis == (1.0, 0.0, 0.0)
    assert [f.height for f in of_class(body, "boss")] == pytest.approx([30])


@pytest.mark.parametrize(
    ("tool", "width", "diameter"),
    [
        (ring((0, 0, 40), 16, 3), 2 * 8**0.5, 26),  # half a tube whose middle lies 1 outside a radius of 15
        (
            cut(drill(0, 0, 30, 40, 40), [cone((0, 0, 30), (0, 0, 35), 34, 24), cone((0, 0, 35), (0, 0, 40), 24, 34)]),
            6,
            24,
        ),
        (sleeve((0, 0, 20), (0, 0, 60), 15), 40, 15),
    ],
)
def test_a_groove_of_any_section_round_a_shaft(tool: Body, width: float, diameter: float) -> None:
    body = cut(drill(0, 0, 0, 80, 30), [tool])
    (groove,) = of_class(body, "slot")
    assert (groove.width, groove.diameter) == pytest.approx((width, diameter)) and groove.access == ()


def test_a_relief_at_a_shoulder_is_a_groove() -> None:
    body = cut(fuse([drill(0, 0, 0, 40, 30), drill(0, 0, 40, 80, 20)]), [sleeve((0, 0, 40), (0, 0, 43), 19)])
    (groove,) = of_class(body, "slot")
    assert (groove.width, groove.diameter, groove.undercut is not None) == (pytest.approx(3), pytest.approx(19), True)


def test_a_plain_step_of_a_boss_is_no_groove() -> None:
    body = cut(fuse([block(z=10), BOSS]), [sleeve((50, 30, 34), (50, 30, 41), 22)])
    assert of_class(body, "slot") == []


def test_a_round_groove_in_a_bore() -> None:
    body = cut(block(z=40), [drill(50, 30, -1, 41, 30), ring((50, 30, 25), 16, 3)])
    (groove,) = of_class(body, "slot")
    assert (groove.diameter, groove.width) == pytest.approx((38, 6)) and groove.access == ()
    assert [f.depth for f in of_class(body, "round_hole")] == pytest.approx([40])


@pytest.mark.parametrize(
    "across",
    [
        [box((-1, 28, 13), (101, 32, 21))],  # a deeper slot, which cuts it and what it runs round in two
        [box((50, 28, 13), (101, 32, 21))],
        [drill(32, 30, -1, 21, 6), drill(68, 30, -1, 21, 3)],  # holes wider and narrower than it
        [drill(50, 30, -1, 21, 20), box((-1, 28, 13), (101, 32, 21))],
    ],
)
def test_a_ring_that_something_divides_is_one_slot(across: list[Body]) -> None:
    """40 outside, 32 inside, 6 deep."""
    body = cut(block(), [cut(drill(50, 30, 14, 21, 40), [drill(50, 30, 0, 30, 32)]), *across])
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    (slot,) = [f for f in found if f.ends == "loop"]
    assert (slot.class_, slot.course_of_travel, slot.access) == ("slot", "circular", (UP,))
    assert (slot.diameter, slot.width, slot.depth) == pytest.approx((36, 4, 6))
    assert slot.placement.location == pytest.approx((50, 30, 20))
    assert not any(f.class_ in ("boss", "open_pocket") for f in found)
    same_when_rewritten(body, 1)


@pytest.mark.parametrize(
    ("across", "length", "ends"),
    [
        (box((-1, 28, 14), (101, 32, 21)), 100, "open open"),
        (box((50, 28, 14), (101, 32, 21)), 50, "open flat"),
        (box((68, 28, 14), (101, 32, 21)), 50 - 396**0.5, "open open"),  # from outside into the ring
        (box((33, 28, 14), (67, 32, 21)), 2 * 252**0.5, "open open"),  # within it
    ],
)
def test_a_ring_and_a_slot_on_one_floor_are_two(across: Body, length: float, ends: str) -> None:
    """The ring as above; half of the slot is 2 wide: it meets circles of 20 and 16 at 396^(1/2) and 252^(1/2)."""
    body = cut(block(), [cut(drill(50, 30, 14, 21, 40), [drill(50, 30, 0, 30, 32)]), across])
    first, second = sorted(of_class(body, "slot"), key=lambda f: f.ends == "loop")
    assert (first.length, first.width, first.depth, first.ends) == (
        pytest.approx(length),
        pytest.approx(4),
        pytest.approx(6),
        ends,
    )
    assert (second.diameter, second.width, second.depth) == pytest.approx((36, 4, 6))
    assert UP in first.access and second.access == (UP,)
    assert {f.class_ for f in recognise(body)} == {"slot", "planar_face", "profile_feature"}
    same_when_rewritten(body, 3)


def test_holes_in_the_floor_of_a_groove_take_it_from_no_shaft() -> None:
    """A spool of 16 with grooves of 10, cross holes of 2 into a bore of 4 in one of them."""
    grooves = [sleeve((0, 0, z), (0, 0, z + 15), 10) for z in (15, 45)]
    holes = [cylinder((-9, 0, 22), (9, 0, 22), 2), cylinder((0, -9, 22), (0, 9, 22), 2), drill(0, 0, -1, 40, 4)]
    body = cut(drill(0, 0, 0, 80, 16), [*grooves, *holes])
    found = of_class(body, "slot")
    assert [(f.diameter, f.width, f.access) for f in found] == [(pytest.approx(10), pytest.approx(15), ())] * 2
    assert sorted(f.diameter or 0 for f in of_class(body, "round_hole")) == pytest.approx([2, 2, 4])
    assert of_class(body, "boss") == [] and of_class(body, "region") == []


def revolved(*profile: tuple[float, float]) -> Body:
    return revolve_profile((*profile, profile[0]), Frame(location=(0, 0, 0), axis=UP, ref_direction=(1, 0, 0)))


TEE = [revolved((30, 12), (40, 12), (40, 22), (30, 22)), revolved((25, 8), (45, 8), (45, 14), (25, 14))]


@pytest.mark.parametrize(
    ("tools", "diameter", "width", "depth", "kind"),
    [
        ([revolved((28, 14), (42, 14), (38, 21), (32, 21))], 70, 14, 6, "dovetail"),
        ([revolved((28, 14), (42, 14), (38, 21), (28, 21))], 70, 14, 6, "dovetail"),  # one side leans
        ([revolved((28, 14), (42, 14), (38, 21), (32, 21)), drill(35, 0, -1, 21, 4)], 70, 14, 6, "dovetail"),
        (TEE, 70, 20, 12, "T-slot"),
    ],
)
def test_a_ring_wider_below_than_at_its_mouth(
    tools: list[Body], diameter: float, width: float, depth: float, kind: str
) -> None:
    """In the face of a disc of 120, 20 thick."""
    body = cut(drill(0, 0, 0, 20, 120), tools)
    (slot,) = of_class(body, "slot")
    assert (slot.diameter, slot.width, slot.depth) == pytest.approx((diameter, width, depth))
    assert (slot.ends, slot.access, slot.placement.axis) == ("loop", (), UP)
    assert (slot.undercut or "").startswith(kind) and slot.placement.location == pytest.approx((0, 0, 20))
    others = {f.class_ for f in recognise(body)} - {"slot", "planar_face", "profile_feature"}
    assert others == ({"round_hole"} if len(tools) > 1 and kind == "dovetail" else set())


@pytest.mark.parametrize(("lip", "width"), [(0, 5), (3, 10)])
def test_slivers_across_a_pulley_leave_its_grooves_as_they_are(lip: float, width: float) -> None:
    """Two grooves with floors of 48 across, 4 or 5 wide there, straight or with flanks that lean by ``lip``."""
    profile = [(0, 0), (30, 0), (30, 5), (24, 5 + lip), (24, width + 5 - lip), (30, width + 5)]
    pulley = revolved(*profile, (30, 20), (24, 20 + lip), (24, width + 20 - lip), (30, width + 20), (30, 35), (0, 35))
    before = of_class(pulley, "slot")
    assert [(f.diameter, f.width) for f in before] == [pytest.approx((48, width))] * 2
    for rewrite in (with_slivers, reordered, turned_over):
        assert [f.id for f in of_class(rewrite(pulley, 1), "slot")] == [f.id for f in before]


def ring_slot(x: float, y: float, radius: float) -> Body:
    """A ring 4 wide and 6 deep."""
    return cut(drill(x, y, 14, 21, 2 * radius), [drill(x, y, 0, 30, 2 * radius - 8)])


@pytest.mark.parametrize(
    ("other", "sizes", "ends"),
    [
        (ring_slot(64, 30, 16), (28, 4, 6), "loop"),
        (obround(50, 80, 30, 14, 21, 8), (38, 8, 6), "radiused radiused"),
        (obround(20, 80, 30, 14, 21, 8), (68, 8, 6), "radiused radiused"),
        (obround(14, 76, 46, 14, 21, 6), (68, 6, 6), "radiused radiused"),  # across the ring beside its middle
    ],
)
def test_rings_and_obround_slots_that_cross_at_one_depth_are_two(
    other: Body, sizes: tuple[float, ...], ends: str
) -> None:
    """The first ring is 44 outside, round (44, 30)."""
    body = cut(block(), [ring_slot(44, 30, 22), other])
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    assert [f.class_ for f in found] == ["slot", "slot"] and all(f.access == (UP,) for f in found)
    first, second = sorted(found, key=lambda f: (f.placement.location[0] > 45, f.ends != "loop"))
    assert (first.diameter, first.width, first.depth, first.ends) == (*(pytest.approx(s) for s in (40, 4, 6)), "loop")
    assert (second.diameter or second.length, second.width, second.depth) == pytest.approx(sizes)
    assert second.ends == ends
    same_when_rewritten(body, 1)
