"""The same part written differently gives the same features; another part gives the others their names back."""

from __future__ import annotations

import itertools
import random
from functools import cache

import pytest

from bench.reencode import as_nurbs, reencoded, split, turned
from bench.rewrites import reordered
from schemas.feature import Feature
from tests.recognise.parts import (
    at_height,
    block,
    chamfered,
    drill,
    obround,
    pocket,
    point,
    prism,
    rounded,
    t_slot,
    upright,
)
from tests.support.scaled import scale_body
from worker.kernel.boolean import cut, fuse
from worker.kernel.graph import face_graph
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body, faces
from worker.kernel.stepio import read_part, write_step
from worker.recognise import recognise
from worker.recognise.floor_outline import _linked
from worker.recognise.patches import part_shape

SIZES = ("diameter", "top_diameter", "depth", "length", "width", "height", "angle", "tip_angle", "radius", "slope")
SIZES += ("orthogonal_radius", "planar_radius", "open_sides", "bottom", "ends", "undercut", "pattern")


def housing() -> Body:
    plate = rounded(block(120, 80, 30), 6, upright)
    tools = [
        drill(15, 15, -1, 31, 6.6), drill(15, 15, 22, 31, 11),
        drill(105, 15, -1, 31, 6.6), drill(105, 15, 22, 31, 11),
        drill(15, 65, -1, 31, 6.6), cone((15, 65, 31), (15, 65, 22), 14.6 + 2, 0.6 - 2 + 2.6),
        fuse([drill(105, 65, 10, 31, 8.5), point(105, 65, 10, 8.5, 2.5)]),
        cut(pocket((35, 20, 12), (85, 60, 31), 5, 1.5), [drill(60, 40, 12, 20, 10)]),
        box((-1, 36, 24), (20, 44, 31)),
        obround(50, 70, 70, 24, 31, 8),
        cylinder((60, -1, 6), (60, 81, 6), 6),
        box((110, -1, 20), (121, 81, 31)),
    ]  # fmt: skip
    return cut(plate, tools)


PARTS = {
    "housing": housing,
    "t-slot": t_slot,
    "vee": lambda: cut(block(), [prism([(20, 20), (40, 20), (30, 10)], 0, 100)]),
    "edges": lambda: chamfered(rounded(block(), 8, upright), 1.5, at_height(20)),
    "chamfered opposite": lambda: chamfered(
        cut(block(), [prism([(-1, -1), (9, -1), (-1, 9)], -1, 101), prism([(61, 21), (51, 21), (61, 11)], -1, 101)]),
        6,
        lambda a, b: upright(a, b) and a[0] < 1 and a[1] > 59,
    ),
    "dish and groove": lambda: cut(
        block(), [cylinder((20, 30, 20), (60, 30, 20), 8), cone((80, 30, 21), (80, 30, 16), 10, 0)]
    ),
    "all round": lambda: rounded(rounded(block(), 8, upright), 2, at_height(20)),
    "slot and pocket": lambda: cut(block(), [box((30, 15, 8), (70, 45, 21)), box((-1, 26, 14), (101, 34, 21))]),
    "bar": lambda: cut(
        fuse([cylinder((0, 0, 0), (0, 0, 60), 40), cylinder((0, 0, 60), (0, 0, 90), 24)]),
        [cylinder((-30, 0, 30), (30, 0, 30), 8), drill(0, 0, 50, 91, 10)],
    ),
}


@cache
def made(name: str) -> Body:
    """One part for all tests of it."""
    return PARTS[name]()


@cache
def plain(name: str) -> tuple[Feature, ...]:
    """Its features as it was made."""
    return recognise(made(name))


def summary(features: tuple[Feature, ...], origin: tuple[int, ...] | None = None) -> list[tuple[object, ...]]:
    rows = []
    for f in features:
        taken = tuple(sorted({origin[i] for i in f.faces})) if origin else f.faces
        sizes = tuple(round(v, 3) if isinstance(v := getattr(f, n), float) else v for n in SIZES)
        rows.append((f.class_, taken, len(f.access), len(f.elements), *sizes))
    return sorted(rows, key=repr)


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("seed", [1])
def test_reencoding_changes_no_feature(name: str, seed: int) -> None:
    body = made(name)
    other, origin = reencoded(body, seed)
    assert len(faces(other)) > len(faces(body))
    assert summary(recognise(other), origin) == summary(plain(name))


@pytest.mark.parametrize("name", [name for name in PARTS if name != "bar"])  # which alone takes as long as the others
def test_nurbs_keep_every_id(name: str) -> None:
    other, _ = as_nurbs(made(name))
    assert [f.id for f in recognise(other)] == [f.id for f in plain(name)]


@pytest.mark.parametrize("name", PARTS)
def test_split_faces_keep_every_id(name: str) -> None:
    other, _ = split(made(name), 5)
    assert [f.id for f in recognise(other)] == [f.id for f in plain(name)]


@pytest.mark.parametrize("name", PARTS)
def test_step_in_mm_and_inch_keeps_every_id(name: str) -> None:
    body, ids = made(name), [f.id for f in plain(name)]
    for units in ("mm", "inch"):
        assert [f.id for f in recognise(read_part(write_step(body, units, "part")).body)] == ids


def test_ids_do_not_depend_on_the_order_of_faces() -> None:
    tools = [drill(15, 15, -1, 31, 6), drill(40, 15, 10, 31, 8), box((60, 20, 12), (90, 50, 31))]
    expected = {f.id for f in recognise(cut(block(120, 80, 30), tools))}
    for order in itertools.permutations(tools):
        assert {f.id for f in recognise(cut(block(120, 80, 30), list(order)))} == expected


def test_parts_that_differ_in_one_feature_share_all_other_ids() -> None:
    rng = random.Random(3)
    spots = [(15 + 20 * i, 15 + 20 * j) for i in range(5) for j in range(3)]
    tools = [drill(x, y, rng.choice([-1, 12]), 31, rng.choice([5, 6.6, 8])) for x, y in spots]
    all_ids = {f.id for f in recognise(cut(block(120, 80, 30), tools))}
    for k in range(0, len(tools), 4):
        fewer = {f.id for f in recognise(cut(block(120, 80, 30), tools[:k] + tools[k + 1 :]))}
        assert fewer < all_ids and len(all_ids - fewer) == 1


def test_ids_are_unique_short_and_repeatable() -> None:
    first, second = recognise(housing()), recognise(housing())
    ids = [f.id for f in first]
    assert len(set(ids)) == len(ids) and [f.id for f in second] == ids
    assert all(i.rsplit("-", 1)[0] == f.class_ or i.startswith(f.class_) for i, f in zip(ids, first, strict=True))


def test_turned_part_has_turned_directions() -> None:
    body = cut(block(), [drill(20, 30, 8, 21, 8)])
    other, _ = turned(body, 9)
    plain = next(f for f in recognise(body) if f.class_ == "round_hole")
    again = next(f for f in recognise(other) if f.class_ == "round_hole")
    assert len(again.access) == len(plain.access) == 1 and again.depth == pytest.approx(12)


def test_scaled_part_has_scaled_sizes() -> None:
    plain = next(f for f in recognise(t_slot()) if f.class_ == "slot")
    large = next(f for f in recognise(scale_body(t_slot(), 3.0)) if f.class_ == "slot")
    assert (large.width, large.depth) == pytest.approx((3 * (plain.width or 0), 3 * (plain.depth or 0)))


def test_walls_that_hardly_lean_from_each_other_give_one_length_in_any_order_of_faces() -> None:
    """90 x 40, one long side 0.1 degrees askew: 90 along the other, 90.07 along that."""
    body = cut(block(40, 100, 50), [prism([(5, 5), (95, 5), (95, 45), (5, 45.16)], 30, 41)])
    lengths = {
        round(f.length or 0, 3)
        for seed in range(8)
        for f in recognise(reordered(body, seed))
        if f.class_ == "closed_pocket"
    }
    assert len(lengths) == 1


@pytest.mark.parametrize("ring", [(2, 3, 4, 2), (3, 4, 2, 3), (4, 2, 3, 4)])
def test_a_floor_walled_all_round_goes_on_nowhere_at_whichever_wall_it_is_said_to_begin(ring: tuple[int, ...]) -> None:
    shape = part_shape(face_graph(block()))
    runs = [(0, 1, 2), ring, (2, 5)]
    inside = dict.fromkeys(runs, (False, False))
    assert sorted(map(set, _linked(shape, runs, inside)), key=len) == [{2, 3, 4}, {0, 1, 2, 5}]
