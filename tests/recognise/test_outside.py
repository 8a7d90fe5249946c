"""Outer faces, contours, chamfers and edge rounds."""

from __future__ import annotations

import math

import pytest

from bench.reencode import turned
from bench.rewrites import in_pieces
from schemas.base import Frame
from schemas.feature import Feature
from tests.recognise.parts import at_height, block, chamfered, drill, rounded, upright
from tests.support.recognised import recognise
from worker.kernel.boolean import common, cut, fuse
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)


def of_class(body: Body, name: str) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ == name]


def profile_round(body: Body, axis: tuple[float, float, float]) -> Feature:
    (found,) = [f for f in of_class(body, "profile_feature") if f.placement.axis == axis]
    return found


def test_block_has_six_faces_and_three_contours() -> None:
    found = recognise(block())
    assert sorted(f.class_ for f in found) == ["planar_face"] * 6 + ["profile_feature"] * 3
    top = next(f for f in found if f.placement.axis == UP and f.class_ == "planar_face")
    assert (top.length, top.width) == pytest.approx((100, 60)) and UP in top.access
    contour = profile_round(block(), UP)
    assert contour.depth == pytest.approx(20) and set(contour.access) == {UP, DOWN} and len(contour.faces) == 4


def test_walls_that_something_stands_out_of_are_no_contour() -> None:
    """A point on the right side stands 10 out of the hull of all upright walls, which ends at x = 100."""
    body = fuse([block(), cone((99, 30, 10), (110, 30, 10), 12, 0)])
    assert UP not in [f.placement.axis for f in of_class(body, "profile_feature")]


@pytest.mark.parametrize("broken", [False, True])
def test_a_slope_is_seen_from_every_side_that_it_looks_towards(broken: bool) -> None:
    """A plane with nothing over it is seen from where its normal has a part along the way (geometry): the slope of 8
    degrees from above and from its lower end. Faces with a slope or broken edges beside them keep theirs."""
    low = math.radians(8)
    frame = Frame(
        location=(0, 0, 20), axis=(math.sin(low), 0, math.cos(low)), ref_direction=(math.cos(low), 0, -math.sin(low))
    )
    body = cut(chamfered(block(), 1.0, at_height(0)) if broken else block(), [box((-50, -5, 0), (150, 65, 40), frame)])
    faces = {f.placement.axis: f.access for f in of_class(body, "planar_face")}
    (slope,) = [axis for axis in faces if 0.5 < axis[2] < 0.999]
    assert {UP, (1.0, 0.0, 0.0)} < set(faces[slope]) and (-1.0, 0.0, 0.0) not in faces[slope]
    level = [access for axis, access in faces.items() if axis != slope and axis[1] == 0]
    assert all(max(map(abs, way)) > 1 - 1e-9 for access in level for way in access)


def test_regions_of_one_plane_are_one_face() -> None:
    body = cut(block(), [box((40, -1, 10), (60, 61, 21))])
    top = [f for f in of_class(body, "planar_face") if f.placement.axis == UP]
    assert len(top) == 1 and len(top[0].faces) == 2


def test_chamfered_top_edges() -> None:
    body = chamfered(block(), 2, at_height(20))
    chamfers = of_class(body, "chamfer")
    assert len(chamfers) == 4
    assert {(round(c.angle or 0, 6), round(c.depth or 0, 6)) for c in chamfers} == {(45.0, 2.0)}
    assert all(UP in c.access for c in chamfers)
    assert profile_round(body, UP).depth == pytest.approx(20)  # from face to face, as of a hole with a broken edge


def test_rounded_top_edge() -> None:
    body = rounded(block(), 3, lambda a, b: a[2] == b[2] == 20 and a[1] == b[1] == 0)
    (found,) = of_class(body, "edge_round")
    assert found.radius == pytest.approx(3) and found.length == pytest.approx(100) and UP in found.access


def test_upright_corners_of_a_plate_belong_to_its_contour() -> None:
    body = rounded(block(), 8, upright)
    assert not of_class(body, "edge_round")
    assert len(profile_round(body, UP).faces) == 8


def test_plate_edges_all_rounded() -> None:
    body = rounded(rounded(block(), 8, upright), 2, at_height(20))
    found = of_class(body, "edge_round")
    assert len(found) == 1 and len(found[0].faces) == 8 and found[0].radius == pytest.approx(2)


def test_hexagon_has_no_chamfers() -> None:
    from tests.recognise.parts import prism

    hexagon = prism([(20, 0), (10, 17.320508), (-10, 17.320508), (-20, 0), (-10, -17.320508), (10, -17.320508)], 0, 30)
    assert not of_class(hexagon, "chamfer") and len(of_class(hexagon, "planar_face")) == 8


def test_round_bar_with_shoulder_and_cross_hole() -> None:
    body = fuse([cylinder((0, 0, 0), (0, 0, 60), 40), cylinder((0, 0, 60), (0, 0, 90), 24)])
    body = cut(body, [cylinder((-30, 0, 30), (30, 0, 30), 8)])
    contour = profile_round(body, UP)
    assert contour.diameter == pytest.approx(40) and contour.depth == pytest.approx(60)
    (boss,) = of_class(body, "boss")
    assert boss.diameter == pytest.approx(24) and boss.height == pytest.approx(30)
    (hole,) = of_class(body, "round_hole")
    assert set(hole.access) == {(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)}


def test_turned_edge_chamfer() -> None:
    from worker.kernel.primitives import cone

    body = fuse([cylinder((0, 0, 0), (0, 0, 58), 40), cone((0, 0, 58), (0, 0, 60), 40, 36)])
    (found,) = of_class(body, "chamfer")
    assert found.depth == pytest.approx(2) and found.angle == pytest.approx(45) and UP in found.access


def test_every_face_is_taken() -> None:
    body = cut(rounded(block(), 8, upright), [drill(50, 30, -1, 21, 10), box((70, 20, 10), (90, 40, 21))])
    taken = {face for f in recognise(body) for face in f.faces}
    assert taken == set(range(len(__import__("worker.kernel.shape", fromlist=["faces"]).faces(body))))


def test_a_notch_in_a_journal_hides_none_of_it() -> None:
    body = cut(
        fuse([cylinder((0, 0, 0), (50, 0, 0), 30), cylinder((50, 0, 0), (90, 0, 0), 20)]),
        [box((60, 6, -20), (85, 20, 20))],
    )
    (journal,) = [f for f in recognise(body) if f.class_ == "boss"]
    assert (journal.diameter, journal.height) == pytest.approx((20, 40)) and journal.access == ((1.0, 0.0, 0.0),)


@pytest.mark.parametrize("slit", [[], [box((0, -0.5, 15), (20, 0.5, 46))]])
def test_a_cone_that_flares_out_of_a_shaft_is_no_pocket(slit: list[Body]) -> None:
    """24 wide below, 32 at its top; with and without a slit in it."""
    flare = fuse([cylinder((0, 0, 0), (0, 0, 30), 24), cone((0, 0, 30), (0, 0, 45), 24, 32)])
    found = [
        f for f in recognise(cut(flare, slit) if slit else flare) if f.class_ not in ("planar_face", "profile_feature")
    ]
    assert {f.class_ for f in found} == {"boss", "region"} | ({"slot"} if slit else set())
    assert [f.diameter for f in found if f.class_ == "boss"] == pytest.approx([24])


def test_a_bitten_bars_end_is_as_wide_as_the_bite_leaves_it_however_it_lies() -> None:
    """Circles of radius 25 and 8, their middles 25 apart, meet at x = (2 * 625 - 64) / 50 from the bar's middle."""
    body = cut(cylinder((0, 0, 0), (0, 0, 40), 50), [cylinder((25, 0, 20), (25, 0, 41), 16)])
    for part in (body, turned(body, 4)[0], in_pieces(body, 3)):
        ends = sorted((f.width, f.length) for f in recognise(part) if f.class_ == "planar_face")
        assert ends == [pytest.approx((25 + (2 * 625 - 64) / 50, 50), abs=1e-4), pytest.approx((50, 50))]


def test_flats_beside_a_half_round_rib_are_faces_of_their_own() -> None:
    """Both level at z = 10, 22 wide and 40 long: milled from above, though the outline round the rib has them too."""
    rib = common(cylinder((30, 0, 10), (30, 40, 10), 16), [box((0, 0, 0), (60, 40, 40))])
    found = recognise(fuse([box((0, 0, 0), (60, 40, 10)), rib]))
    (flat,) = [f for f in found if f.class_ == "planar_face" and f.placement.axis == (0, 0, 1)]
    assert flat.placement.location == pytest.approx((30, 20, 10)) and len(flat.faces) == 2
    assert (0, 0, 1) in flat.access


def test_a_bell_crank_has_one_outline_its_hub_between_the_arms_too() -> None:
    """10 thick; the hub of 40 stands out of the corner between the arms, by (20 - 12 * sqrt(2)) = 3.03."""
    arms = [box((0, 0, 0), (60, 12, 10)), box((0, 0, 0), (12, 60, 10))]
    found = recognise(fuse([*arms, cylinder((0, 0, 0), (0, 0, 10), 40)]))
    # broader across the axis than along it, the arms' walls are milled by a cutter's side alone, but for their ends
    assert sorted(f.class_ for f in found) == ["planar_face"] * 4 + ["profile_feature"]
    outline = next(f for f in found if f.class_ == "profile_feature")
    assert outline.depth == pytest.approx(10) and len(outline.faces) == 8


def test_the_bevel_round_the_corners_of_a_hexagon_is_one_chamfer() -> None:
    """24 across corners, 20.785 across flats; the bevel of 45 degrees begins at ø22.2, 0.9 below the top at the corners
    (a nut's end, by hand): six stretches of one cone."""
    angles = [math.radians(60 * i) for i in range(6)]
    flats = [box((-30, 12 * math.cos(math.pi / 6), -1), (30, 30, 11), _turned(a)) for a in angles]
    bar = cut(cylinder((0, 0, 0), (0, 0, 10), 40), flats)
    found = recognise(common(bar, [cone((0, 0, -2.9), (0, 0, 10), 48, 22.2)]))
    (bevel,) = [f for f in found if f.class_ == "chamfer"]
    assert len(bevel.faces) == 6 and (bevel.angle, bevel.depth) == pytest.approx((45, 0.9))
    assert UP in bevel.access and not [f for f in found if f.class_ == "region"]


def _turned(angle: float) -> Frame:
    return Frame(location=(0, 0, 0), axis=UP, ref_direction=(math.cos(angle), math.sin(angle), 0))
