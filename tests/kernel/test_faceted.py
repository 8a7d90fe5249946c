"""Cuts by closed meshes: the volume of chords against closed forms, and solids that the kernel accepts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from schemas.tolerances import COINCIDENT, FACETS
from worker.kernel import boolean, measure, meshes, primitives
from worker.kernel.errors import KernelError
from worker.kernel.faceted import cut_by_meshes, faceted
from worker.kernel.mesh import triangulate
from worker.kernel.meshes import covered, mesh_of, pieces, shared_volume, split_by, standing_on, without_crumbs
from worker.kernel.shape import Body, compound, faces, solids
from worker.kernel.validity import faults, shell_faults

BOX = primitives.box((0, 0, 0), (60, 40, 20))


def segments(radius: float) -> float:
    """Fewest chords round a circle that stay within FACETS of it: sagitta r (1 - cos(pi / n))."""
    return math.pi / math.acos(1 - FACETS / radius)


def test_a_hole_is_an_inscribed_prism() -> None:
    left = cut_by_meshes(BOX, [primitives.cylinder((30, 20, -1), (30, 20, 21), 10)])
    count = len(faces(left)) - 6
    assert count >= segments(5) - 1
    # regular n-gon in a circle of radius r: n/2 r^2 sin(2 pi / n)
    prism = count / 2 * 25 * math.sin(2 * math.pi / count) * 20
    assert measure.volume(left) == pytest.approx(60 * 40 * 20 - prism, rel=1e-9)
    assert not faults(left)


@pytest.mark.parametrize(
    ("tool", "taken"),
    [
        (primitives.cone((30, 20, 10), (30, 20, 25), 0, 15), math.pi * 5**2 * 10 / 3),  # radius 5 at the top face
        (primitives.sphere((30, 20, 20), 12), 2 / 3 * math.pi * 6**3),
        (primitives.box((-1, -1, 15), (61, 10, 21)), 60 * 10 * 5),
    ],
    ids=["cone", "ball", "box"],
)
def test_what_is_taken_and_left_make_the_stock(tool: Body, taken: float) -> None:
    chips, rest = split_by(mesh_of(BOX, FACETS), [tool], FACETS)
    area = rest.round_area
    assert chips.volume() == pytest.approx(taken, abs=FACETS * area + 1e-9)
    assert chips.volume() + rest.solid.volume() == pytest.approx(48000, rel=1e-12)
    assert measure.volume(faceted(rest.solid)) == pytest.approx(rest.solid.volume(), rel=1e-9)


def test_tools_of_several_solids_that_overlap_and_touch() -> None:
    tools = [compound([primitives.box((10, 10, 10), (30, 30, 21)), primitives.box((20, 10, 5), (40, 30, 21))]),
             primitives.box((40, 10, 10), (50, 30, 21))]  # fmt: skip
    left = cut_by_meshes(BOX, tools)
    assert measure.volume(left) == pytest.approx(48000 - (10 * 20 * 10 + 20 * 20 * 15 + 10 * 20 * 10), rel=1e-12)
    assert len(faces(left)) == len(faces(boolean.cut(BOX, tools)))  # plane faces are whole again


def test_pieces_come_in_an_order_that_their_shape_decides() -> None:
    left = cut_by_meshes(BOX, [primitives.box((20, -1, -1), (25, 41, 21))])
    volumes = [measure.volume(piece) for piece in solids(left)]
    assert volumes == pytest.approx([35 * 40 * 20, 20 * 40 * 20])


def test_a_void_stays_with_the_metal_round_it() -> None:
    hollow = boolean.cut(BOX, [primitives.box((5, 5, 5), (15, 15, 15))])
    left = cut_by_meshes(hollow, [primitives.box((50, -1, -1), (61, 41, 21))])
    assert measure.volume(left) == pytest.approx(50 * 40 * 20 - 1000, rel=1e-12)
    with pytest.raises(KernelError, match="voids"):
        cut_by_meshes(hollow, [primitives.box((50, -1, -1), (55, 41, 21))])


def test_what_stands_on_a_part_is_told_apart_from_films_of_chords() -> None:
    """A bore whose chords lie otherwise on stock and part, and a lump of 2 x 3 x 4 on the top."""
    bored = boolean.cut(BOX, [primitives.cylinder((30, 20, -1), (30, 20, 21), 10)])
    turned = cut_by_meshes(BOX, [primitives.cylinder((30, 20, 21), (30, 20, -1), 10.0)])
    stock = boolean.fuse([turned, primitives.box((5, 5, 20), (7, 8, 24))])
    part = mesh_of(bored, FACETS)
    (lump,) = standing_on(part, mesh_of(stock, FACETS), 2e-3)
    under = covered(lump, part)
    assert lump.volume == pytest.approx(2 * 3 * (4 - 2e-3), rel=1e-6)
    assert under == pytest.approx(dict.fromkeys(under, 6.0)) and len(under) == 1
    assert measure.face_point_inside(faces(bored)[next(iter(under))])[2] == pytest.approx(20)


def test_films_of_chords_go_before_anything_is_cut_again() -> None:
    """Of the films between the chords of one bore, and a lump of 2 x 3 x 4, the lump alone is cut on: a box of
    12 triangles."""
    bored = boolean.cut(BOX, [primitives.cylinder((30, 20, -1), (30, 20, 21), 10)])
    turned = cut_by_meshes(BOX, [primitives.cylinder((30, 20, 21), (30, 20, -1), 10.0)])
    stock = boolean.fuse([turned, primitives.box((5, 5, 20), (7, 8, 24))])
    left = mesh_of(stock, FACETS).solid - mesh_of(bored, FACETS).solid
    assert left.num_tri() > 100
    kept = without_crumbs(left)
    assert (kept.num_tri(), kept.volume()) == pytest.approx((12, 2 * 3 * 4))


@pytest.mark.parametrize("off", [0.0, 5e-7, 5e-3])
def test_hairlines_between_faces_are_filled(monkeypatch: pytest.MonkeyPatch, off: float) -> None:
    """One face of a box with two points on an edge that the face across has not, a hair beside the edge: the box's
    volume within that hair, 60 x 40 x 20. An opening that is no hair is refused."""
    points, corners, owner = triangulate(BOX)
    a, b, c = corners[0]
    inner = points[a] + np.outer((0.3, 0.7), points[b] - points[a]) + (0, 0, off)
    fan = [(a, len(points), c), (len(points), len(points) + 1, c), (len(points) + 1, b, c)]
    more = np.concatenate([points, inner]), np.concatenate([fan, corners[1:]]), np.concatenate([owner[[0, 0]], owner])
    monkeypatch.setattr(meshes, "triangulate", lambda *_, **__: more)
    if off > COINCIDENT:
        with pytest.raises(KernelError, match="close"):
            mesh_of(BOX, FACETS)
        return
    assert mesh_of(BOX, FACETS).solid.volume() == pytest.approx(48000, rel=1e-8)


@pytest.mark.parametrize("off", [0.0, 1e-7, 1e-5])
def test_equal_cylinders_that_cross_a_hair_apart(off: float) -> None:
    """Two bores of 8 mm crossing in the middle: pi r^2 (a + b) less the common 16 r^3 / 3 (Steinmetz)."""
    tools = [
        primitives.cylinder((-1, 20, 10), (61, 20, 10), 8),
        primitives.cylinder((30, -1, 10), (30, 41, 10), 8 + off),
    ]
    left = cut_by_meshes(BOX, tools)
    taken = math.pi * 16 * (60 + 40) - 16 * 64 / 3
    assert measure.volume(left) == pytest.approx(48000 - taken, abs=FACETS * math.pi * 8 * 100)
    assert not shell_faults(left)


def test_what_two_bodies_share() -> None:
    bored = boolean.cut(BOX, [primitives.cylinder((30, 20, -1), (30, 20, 21), 10)])
    aside = primitives.box((30, 0, -5), (70, 40, 20 + 1e-6))
    wanted = 30 * 40 * 20 - math.pi * 25 / 2 * 20  # half of the block less half of the bore
    assert shared_volume(bored, aside, FACETS) == pytest.approx(wanted, abs=FACETS * math.pi * 5 * 20)


def test_a_ball_a_hair_above_a_bore_of_its_size() -> None:
    """The kernel's own check rejects this faceted solid, whose shell is closed and whose volume is right."""
    bored = boolean.cut(BOX, [primitives.cylinder((20, 20, 8), (20, 20, 21), 10)])
    left = cut_by_meshes(bored, [primitives.sphere((20, 20, 8 + 1e-5), 10)])
    taken = math.pi * 25 * 12 + 2 / 3 * math.pi * 125
    assert measure.volume(left) == pytest.approx(48000 - taken, abs=FACETS * (math.pi * 10 * 12 + 2 * math.pi * 25))


def test_the_same_bytes_each_time() -> None:
    tool = primitives.cone((30, 20, 10), (30, 20, 25), 0, 15)
    first, second = (pieces(split_by(mesh_of(BOX, FACETS), [tool], FACETS)[1].solid) for _ in range(2))
    assert [p.points.tobytes() + p.corners.tobytes() for p in first] == [
        p.points.tobytes() + p.corners.tobytes() for p in second
    ]
