"""Where the rule looks for metal beside a chamfer: on the neighbour's side of their common edge, by plain geometry."""

import math

import pytest

from worker.checks.order._chamfers import ABOVE, BESIDE, _beside
from worker.kernel import boolean, primitives
from worker.kernel.graph import border_of, face_graph
from worker.kernel.shape import Body

PIN = boolean.fuse(
    [primitives.cylinder((0, 0, 0), (0, 0, 9), 20.0), primitives.cone((0, 0, 9), (0, 0, 10), 20.0, 18.0)]
)
"""20 mm thick, chamfered 1 mm at its top."""
QUARTER = boolean.common(PIN, [primitives.box((0, 0, -1), (20, 20, 20))])
"""Of which the middle of the chamfer's face lies farther in than the middle of its upper edge."""


def _cone(body: Body) -> int:
    return next(face.index for face in face_graph(body).faces if face.surface.kind == "cone")


@pytest.mark.parametrize("body", [PIN, QUARTER], ids=["whole", "quarter"])
def test_the_place_lies_on_the_neighbour_not_over_the_chamfer(body: Body) -> None:
    cone = _cone(body)
    edges, surfaces = border_of(body, {cone})
    found = {}
    for edge in edges:
        outer = edge.faces[1] if edge.faces[0] == cone else edge.faces[0]
        x, y, z = _beside(edge, outer, surfaces[outer]) or (0.0, 0.0, 0.0)
        if edge.curve == "circle":
            found[surfaces[outer].kind] = (math.hypot(x, y), z)
    sagitta = 10 * (1 - math.cos(math.pi / 16))  # of a chord between two of the sixteen points of the edge
    assert found["plane"] == pytest.approx((9.0 - BESIDE, 10.0 + ABOVE), abs=sagitta)
    assert found["plane"][0] < 9.0 - BESIDE / 2
    assert found["cylinder"] == pytest.approx((10.0 + ABOVE, 9.0 - BESIDE), abs=sagitta)
    assert found["cylinder"][1] < 9.0 - BESIDE / 2


def test_some_faces_have_the_edges_that_they_have_among_all() -> None:
    whole = face_graph(QUARTER)
    for face in whole.faces:
        edges, surfaces = border_of(QUARTER, {face.index})
        assert edges == tuple(edge for edge in whole.edges if face.index in edge.faces)
        assert all(whole.faces[number].surface == surface for number, surface in surfaces.items())
