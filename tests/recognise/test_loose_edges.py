"""What of a part is read with doubt is told with its place: edges that join other than two faces, wrong triangles."""

from __future__ import annotations

import json
import math

import pytest
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

from tests.recognise.parts import block, drill, point
from tests.support.block import one_setup
from worker.inputs import read_part
from worker.kernel import graph, graph_flats
from worker.kernel.boolean import cut, fuse
from worker.kernel.graph_mesh import Corners, face_triangles
from worker.kernel.primitives import box, sphere
from worker.kernel.shape import Body
from worker.kernel.stepio import write_step
from worker.pipeline import check_plan
from worker.recognise.survey import survey


def touching() -> Body:
    """Two corners of a block left standing, which touch in the upright line at (20, 20)."""
    return cut(box((0, 0, 0), (40, 40, 20)), [box((-1, -1, 10), (20, 20, 21)), box((20, 20, 10), (41, 41, 21))])


def test_metal_that_touches_in_a_line_is_told_with_its_place() -> None:
    (note,) = read_part(write_step(touching(), "mm", "part"))[1].notes
    assert note.startswith("1 edge does not join exactly two faces, the first at [20, 20, 15] mm")


def test_the_report_says_so_too() -> None:
    step = {"id": "10", "operation": "bottom_and_side_finish_milling", "tool": "EM12", "features": [{"class": "step"}]}
    plan = one_setup([step])
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [40, 40, 20]}}
    report = check_plan(write_step(touching(), "mm", "part"), json.dumps(plan).encode(), {}).report
    assert any("not join exactly two faces" in note for note in report.evidence.notes)


@pytest.mark.parametrize(
    "body", [block(), cut(block(), [fuse([drill(20, 30, 8, 21, 8), point(20, 30, 8, 8, 2.4)])]), drill(0, 0, 0, 9, 5)]
)
def test_sound_parts_have_none(body: Body) -> None:
    assert survey(body).notes == ()


def ball_pit() -> Body:
    """A block with a dish of 12 mm across and 4 deep: of a ball of radius 6.5, which is 6^2 + 2.5^2 under the root."""
    return cut(block(), [sphere((50, 30, 22.5), 13.0)])


def halved(shape: TopoDS_Shape, faces: tuple[TopoDS_Face, ...], *, swift: bool = True) -> tuple[Corners, ...]:
    """What a triangulator that goes astray makes of each face: half of it."""
    return tuple(corners[: len(corners) // 2] for corners in face_triangles(shape, faces, swift=swift))


def test_a_curved_face_that_is_triangulated_in_part_is_made_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its area is that of a cap: 2 pi r h."""
    monkeypatch.setattr(graph, "face_triangles", halved)
    found = survey(ball_pit())
    assert found.notes == ()
    (area,) = [f.area for f in graph.face_graph(ball_pit()).faces if f.surface.kind == "sphere"]
    assert area == pytest.approx(math.tau * 6.5 * 4, rel=0.02)


def test_one_that_no_triangulator_fills_is_told_with_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(graph, "face_triangles", halved)
    monkeypatch.setattr(graph_flats, "face_triangles", halved)
    monkeypatch.setattr(graph_flats, "redrawn", lambda face: halved(face, (face,))[0])
    (note,) = survey(ball_pit()).notes
    assert note.startswith("1 curved face is triangulated in part only, the first at [")
