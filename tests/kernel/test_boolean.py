"""Booleans: what they return, what they trace, what they refuse."""

import math
from itertools import pairwise

import numpy as np
import pytest

from schemas.base import Frame
from worker.kernel import attempts
from worker.kernel.boolean import common, common_traced, cut, cut_traced, fuse
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.journal import journal, note
from worker.kernel.measure import contains, distance, face_normal, face_point_inside, volume
from worker.kernel.merge import merged, wound_faces
from worker.kernel.outline import _arcs_through
from worker.kernel.partition import split
from worker.kernel.planar import Region
from worker.kernel.planar_edge import line
from worker.kernel.primitives import box, cone, cylinder, half_space_box
from worker.kernel.probe import Points, probe_pieces
from worker.kernel.shape import EMPTY, WORLD, Body, compound, faces, is_empty, move_body, solids
from worker.kernel.stepio import write_step
from worker.kernel.sweep import prism
from worker.kernel.validity import faults

BLOCK = box((0, 0, 0), (60, 40, 20))


def test_empty_operands():
    assert cut(BLOCK, []) is BLOCK
    assert cut(BLOCK, [EMPTY]) is BLOCK
    assert is_empty(cut(EMPTY, [BLOCK])) and is_empty(common(BLOCK, [])) and is_empty(fuse([]))
    assert volume(EMPTY) == 0.0


def test_a_cut_that_takes_everything_leaves_the_empty_body():
    result = cut_traced(BLOCK, [box((-1, -1, -1), (61, 41, 21))])
    assert is_empty(result.body) and result.origin == ()


def test_tools_beside_the_stock_and_flush_with_it_take_nothing():
    for tool in (box((70, 0, 0), (80, 40, 20)), box((60, 0, 0), (70, 40, 20))):
        result = cut_traced(BLOCK, [tool])
        assert result.method == "plain"
        assert volume(result.body) == pytest.approx(48000, rel=1e-12)


def test_a_slot_through_leaves_two_solids():
    result = cut(BLOCK, [box((25, -1, -1), (35, 41, 21))])
    assert sorted(round(volume(s)) for s in solids(result)) == [20000, 20000]


def test_every_face_is_traced_to_stock_or_tool_through_the_merge():
    hole, step = cylinder((20, 20, -1), (20, 20, 21), 10), box((40, -1, 10), (61, 41, 21))
    result = cut_traced(BLOCK, [hole, step])
    assert len(result.origin) == len(faces(result.body)) == 9
    assert sorted({source[0] for source in result.origin}) == [0, 1, 2]
    for face, source in zip(faces(result.body), result.origin, strict=True):
        argument = (BLOCK, hole, step)[source[0]]
        parent = faces(argument)[source[1]]
        assert distance(parent, compound_point(face_point_inside(face))).distance < 1e-9


def compound_point(point):
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeVertex
    from OCP.gp import gp_Pnt

    return BRepBuilderAPI_MakeVertex(gp_Pnt(*point)).Vertex()


def test_pieces_of_one_plane_are_joined_and_keep_the_stock_as_origin():
    """Two fused halves of a block, cut by a slot: the top stays one face on either side."""
    halves = fuse([box((0, 0, 0), (30, 40, 20)), box((30, 0, 0), (60, 40, 20))], merge=False)
    assert len(faces(merged(halves))) == 6
    result = cut_traced(halves, [box((-1, 15, 10), (61, 25, 21))])
    assert len(faces(result.body)) == 10
    assert all(source is not None for source in result.origin)


def test_common_of_several_overlapping_tools_counts_metal_once():
    tools = [box((0, 0, 0), (20, 40, 20)), box((10, 0, 0), (30, 40, 20))]
    result = common_traced(BLOCK, tools)
    assert volume(result.body) == pytest.approx(30 * 40 * 20, rel=1e-12)


def test_balance_of_cut_and_common():
    tools = [cylinder((x, 20, -1), (x, 20, 15), 8) for x in (10, 25, 40)] + [cylinder((-1, 20, 8), (61, 20, 8), 5)]
    assert volume(cut(BLOCK, tools)) + volume(common(BLOCK, tools)) == pytest.approx(48000, rel=1e-9)


def test_cutting_again_with_the_same_tools_takes_nothing():
    tools = [cylinder((10, 20, 5), (10, 20, 21), 8), box((30, 10, 10), (50, 30, 21))]
    once = cut(BLOCK, tools)
    assert volume(cut(once, tools)) == pytest.approx(volume(once), rel=1e-12)
    assert is_empty(common(once, tools))


def test_a_split_tells_which_tools_each_piece_lies_in():
    tools = [box((-1, -1, -1), (20, 41, 21)), box((10, -1, -1), (30, 41, 21))]
    sizes = {members: volume(piece) for piece, members in split(BLOCK, tools)}
    assert sizes == {
        (0,): pytest.approx(8000),
        (0, 1): pytest.approx(8000),
        (1,): pytest.approx(8000),
        (): pytest.approx(24000),
    }


def test_tools_that_are_not_compared_with_each_other_cut_the_same_pieces():
    """Three holes within a frame that is milled round them; by hand: pi r2 h each, and the frame's own volume."""
    round_it = cut(box((-5, -5, -1), (65, 45, 21)), [box((5, 5, -2), (55, 35, 22))])
    holes = [cylinder((x, 20, -1), (x, 20, 25), 8) for x in (15, 30, 45)]
    tools = [holes[0], round_it, *holes[1:]]
    one, ring = math.pi * 16 * 20, (60 * 40 - 50 * 30) * 20
    expected = {(0,): one, (1,): ring, (2,): one, (3,): one, (): 48000 - ring - 3 * one}
    for groups in ((), [[1, 0, 2, 3]], [[3], [0, 1], [2]]):
        found = {members: volume(piece) for piece, members in split(BLOCK, tools, groups)}
        assert found == {members: pytest.approx(size, rel=1e-12) for members, size in expected.items()}


@pytest.mark.parametrize(
    ("low", "high", "inside"), [((-1, -1, 10), (20, 41, 21), 20 * 40 * 10), ((10, 10, 5), (20, 20, 15), 1000)]
)
def test_a_tool_turned_inside_out_is_refused_or_cuts_what_it_should(low, high, inside):
    """The kernel is not asked which way round a tool is: what it makes of one that is wrong must show (by hand)."""
    turned = Body(box(low, high).wrapped.Reversed())
    try:
        pieces = split(BLOCK, [turned])
    except KernelError:
        return
    assert sum(volume(piece) for piece, members in pieces if members) == pytest.approx(inside)


def test_crumbs_along_a_wall_that_winds_about_the_stock_s_own_are_no_metal():
    """A cone on its side, and over height 5 a wall of arcs along the hyperbola in which that height meets it: by hand
    the cone stays whole. The arcs wind about it by 4e-5, and some of the crumbs between have a volume below zero."""
    stock, wide = cone((0, 0, 0), (10, 0, 0), 0, 20), math.sqrt(56)
    heights = [wide * (i / 64 - 1) for i in range(129)]
    arcs, _ = _arcs_through([(math.sqrt(y * y + 25), y) for y in heights], 4)
    outline = [*arcs, *(line(a, b) for a, b in pairwise([(9, wide), (-1, wide), (-1, -wide), (9, -wide)]))]
    found = split(stock, [prism(Region((tuple(outline),)), Frame(), 5, 30)])
    assert {members: volume(piece) for piece, members in found} == {(): pytest.approx(1000 * math.pi / 3, rel=1e-7)}


def test_a_split_with_a_piece_on_the_wrong_side_is_refused():
    tool = box((-1, -1, -1), (20, 41, 21))
    pieces = split(BLOCK, [tool])
    unknown = [()] * (len(faces(BLOCK)) + len(faces(tool)))
    assert probe_pieces((BLOCK, tool), pieces, unknown) == ""
    swapped = [(piece, () if members else (0,)) for piece, members in pieces]
    assert "wrong side" in probe_pieces((BLOCK, tool), swapped, unknown)
    assert "outside the stock" in probe_pieces((BLOCK, tool), [(tool, (0,))], unknown)


def test_a_face_counts_as_within_a_body_when_any_of_its_points_does():
    at = np.array([(-1, 5, 5), (30, 20, 10), (5, 5, 5), (60.0, 20, 10), (30, 20, 25), (90, 20, 10)])
    points = Points(at, np.array([0, 0, 0, 1, 1, 2], np.int32))  # the fourth lies on the block's own face
    assert points.faces_inside(BLOCK) == {0}
    assert points.faces_inside(compound([BLOCK, box((80, 0, 0), (100, 40, 20))])) == {0, 2}
    assert points.faces_inside(EMPTY) == set()
    assert points.faces_inside(BLOCK, lambda near: near[:, 0] > 30) == set()


def test_order_of_tools_changes_neither_volume_nor_face_count():
    tools = [cylinder((x, 20, -1), (x, 20, 21), 12) for x in (10, 18, 26)]
    there, back = cut(BLOCK, tools), cut(BLOCK, tools[::-1])
    assert volume(there) == pytest.approx(volume(back), rel=1e-12)
    assert len(faces(there)) == len(faces(back))


def test_the_same_cut_gives_the_same_bytes():
    tools = [cylinder((x, 20, 3), (x, 20, 21), 12) for x in (10, 18, 26)] + [cylinder((-1, 20, 8), (61, 20, 8), 5)]
    assert write_step(cut(BLOCK, tools)) == write_step(cut(BLOCK, tools))


def test_a_result_that_fails_every_check_is_an_error_and_names_the_step(monkeypatch):
    monkeypatch.setattr(attempts, "shell_faults", lambda solid: ("it is inside out",))
    with pytest.raises(KernelError) as caught:
        cut(BLOCK, [box((1, 1, 1), (2, 2, 21))])
    assert caught.value.step == "cut"
    assert "plain: it is inside out" in caught.value.detail and "fuzzy" in caught.value.detail


def test_a_retry_is_named(monkeypatch):
    answers = iter([("a shell is open",)] * 3 + [()])
    monkeypatch.setattr(attempts, "shell_faults", lambda solid: next(answers))
    assert cut_traced(BLOCK, [box((1, 1, 1), (2, 2, 21))]).method == "fuzzy 0.0001"


def refusing(condition):
    """The ladder of attempts, failing wherever the condition holds for its arguments."""
    plain = attempts.attempts

    def attempt(kind, step, arguments):
        if condition(arguments):
            raise KernelError(step, "refused by the test")
        return plain(kind, step, arguments)

    return attempt


def test_tools_that_fail_together_are_cut_one_by_one_and_traced_alike(monkeypatch):
    tools = [cylinder((20, 20, -1), (20, 20, 21), 10), box((40, -1, 10), (61, 41, 21)), box((15, -1, 15), (50, 41, 21))]
    at_once, taken_at_once = cut_traced(BLOCK, tools), common(BLOCK, tools)
    monkeypatch.setattr(attempts, "attempts", refusing(lambda arguments: len(arguments) > 2))
    with journal() as notes:
        singly, taken = cut_traced(BLOCK, tools), common_traced(BLOCK, tools)
    assert singly.method == "one by one, plain"
    assert notes == ["cut: one by one, plain", "common: one by one, plain"]
    assert volume(singly.body) == pytest.approx(volume(at_once.body), rel=1e-12)
    assert sorted(singly.origin) == sorted(at_once.origin)
    assert volume(taken.body) == pytest.approx(volume(taken_at_once), rel=1e-12)


def test_a_tool_that_fails_alone_is_moved_by_less_than_any_tolerance(monkeypatch):
    tool = box((10, 10, 5), (20, 20, 25))
    monkeypatch.setattr(attempts, "attempts", refusing(lambda arguments: arguments[1] is tool))
    with journal() as notes:
        result = cut_traced(BLOCK, [tool])
    assert notes == ["cut: tool moved by 3e-05 mm"]
    assert volume(result.body) == pytest.approx(48000 - 1500, abs=100 * 3e-5)


def test_what_the_kernel_throws_becomes_a_kernel_error_that_names_the_step():
    from OCP.Standard import Standard_Failure

    with pytest.raises(KernelError) as caught, kernel_step("offset"):
        raise Standard_Failure("somewhere deep\nsecond line")
    assert (caught.value.step, caught.value.detail) == ("offset", "Standard_Failure: somewhere deep")


def test_the_plain_way_leaves_no_note_and_nothing_is_kept_without_a_journal():
    with journal() as notes:
        cut(BLOCK, [box((10, 10, 5), (20, 20, 25))])
    note("outside any journal")
    assert notes == []


def test_an_error_is_raised_when_a_probe_shows_lost_metal(monkeypatch):
    """A kernel that hands back a block without the cut is caught by where the inner points of faces lie."""
    monkeypatch.setattr(attempts, "compound", lambda bodies: BLOCK)
    with pytest.raises(KernelError, match=r"is gone where no tool was|left no wall in the stock"):
        cut(BLOCK, [box((10, 10, 5), (20, 20, 21))])


def test_a_result_that_only_the_kernels_check_doubts_is_decided_by_balance():
    """Two cone ends whose rims nearly touch leave a wire that the check calls self-intersecting."""
    stock = cut(BLOCK, [cone((30, 10, 5), (30, 10, 13), 2, 18)])
    tool = cone((25, 15, 5), (25, 15, 13), 2, 18)
    rest, taken = cut_traced(stock, [tool]), common_traced(stock, [tool])
    assert volume(rest.body) + volume(taken.body) == pytest.approx(volume(stock), rel=1e-9)


def test_two_shells_side_by_side_in_one_solid_are_a_fault():
    from OCP.BRep import BRep_Builder
    from OCP.TopoDS import TopoDS_Solid

    from worker.kernel.shape import shells

    odd = TopoDS_Solid()
    builder = BRep_Builder()
    builder.MakeSolid(odd)
    for block in (box((0, 0, 0), (5, 5, 5)), box((10, 0, 0), (15, 5, 5))):
        builder.Add(odd, shells(block.wrapped)[0])
    assert any("2 outer shells" in fault for fault in faults(Body(odd)))


def test_a_void_is_sound():
    hollow = cut(BLOCK, [box((10, 10, 5), (20, 20, 15))])
    assert faults(hollow) == ()
    assert contains(hollow, (15, 15, 10)) == "out" and contains(hollow, (5, 5, 5)) == "in"
    assert contains(hollow, (10, 12, 8)) == "on"


def test_normals_point_out_of_the_metal():
    drilled = cut(BLOCK, [cylinder((30, 20, -1), (30, 20, 21), 10)])
    for face in faces(drilled):
        at = face_point_inside(face)
        normal = face_normal(face, at)
        out, inner = (tuple(a + s * 0.01 * n for a, n in zip(at, normal, strict=True)) for s in (1, -1))
        assert (contains(drilled, out), contains(drilled, inner)) == ("out", "in")


def test_half_space_box_stands_on_its_plane():
    tool = half_space_box((0, 0, 12), (0, 0, 1), 500)
    assert volume(cut(BLOCK, [tool])) == pytest.approx(60 * 40 * 12, rel=1e-9)
    slanted = half_space_box((30, 20, 10), (1, 2, 3), 500)
    assert volume(cut(BLOCK, [slanted])) == pytest.approx(24000, rel=1e-9)  # a plane through the centre halves it


@pytest.mark.parametrize("seed", range(6))
def test_near_coincident_walls_leave_no_nonsense(seed):
    """Tools whose walls lie 1e-9 to 1e-5 mm beside the stock's: at most that sliver differs."""
    shift = (1e-9, 1e-8, 1e-7, 3e-7, 1e-6, 1e-5)[seed]
    result = cut(BLOCK, [box((-1, -1, 10 + shift), (61, 20 - shift, 21)), box((-1, 20 + shift, 10), (61, 41, 21))])
    assert volume(result) == pytest.approx(24000, abs=3 * 60 * 40 * 1e-5)
    assert faults(result) == ()


def test_compound_of_disjoint_stock_is_cut_as_one_body():
    two = compound([BLOCK, box((100, 0, 0), (110, 10, 10))])
    result = cut(two, [box((50, -1, -1), (105, 41, 21))])
    assert volume(result) == pytest.approx(48000 - 8000 + 1000 - 500, rel=1e-12)


def test_moving_leaves_no_location_behind():
    frame = Frame(location=(5, 6, 7), axis=(1, 1, 1), ref_direction=(1, 0, 0))
    moved = move_body(BLOCK, WORLD, frame)
    assert all(face.Location().IsIdentity() for face in faces(moved))
    assert not wound_faces(moved)
    assert math.dist(face_point_inside(faces(moved)[0]), (0, 0, 0)) > 1
