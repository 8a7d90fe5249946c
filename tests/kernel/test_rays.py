"""Sides of points in a body with many faces, against closed forms: a plate with equal holes on a grid."""

from __future__ import annotations

import math
import random
from types import SimpleNamespace

import pytest
from OCP.gp import gp_Pnt
from OCP.TopAbs import TopAbs_State as State

from worker.kernel import rays
from worker.kernel.boolean import cut
from worker.kernel.errors import KernelError
from worker.kernel.primitives import box, cylinder
from worker.kernel.rays import MANY, Rays, Sides
from worker.kernel.shape import Body, faces, solids

COUNT, PITCH, THICK, RADIUS = 11, 8.0, 10.0, 1.5


@pytest.fixture(scope="module")
def plate() -> Body:
    """121 holes through a plate: its planes have more outlines than are looked at one by one."""
    tools = [
        cylinder((PITCH * i + 4, PITCH * j + 4, -1), (PITCH * i + 4, PITCH * j + 4, THICK + 1), 2 * RADIUS)
        for i in range(COUNT)
        for j in range(COUNT)
    ]
    made = cut(box((0, 0, 0), (PITCH * COUNT, PITCH * COUNT, THICK)), tools)
    assert len(faces(made)) == COUNT**2 + 6 > MANY
    return solids(made)[0]


def _from_hole(x: float, y: float) -> float:
    """Distance to the axis of the hole of the cell."""
    return math.hypot(x % PITCH - 4, y % PITCH - 4)


def test_points_are_in_the_metal_where_the_grid_says_so(plate: Body) -> None:
    sure, dice, size = Rays(plate), random.Random(1), PITCH * COUNT
    answers = []
    for _ in range(400):
        x, y, z = dice.uniform(0, size), dice.uniform(0, size), dice.uniform(-5, THICK + 5)
        if min(abs(z), abs(THICK - z), abs(_from_hole(x, y) - RADIUS), x, y, size - x, size - y) > 0.01:
            metal = 0 < z < THICK and _from_hole(x, y) > RADIUS
            answers.append((sure.state(gp_Pnt(x, y, z)), State.TopAbs_IN if metal else State.TopAbs_OUT))
    assert all(found == truth for found, truth in answers)
    assert {truth for _, truth in answers} == {State.TopAbs_IN, State.TopAbs_OUT}


@pytest.mark.parametrize(
    ("x", "y", "z", "state"), [(8, 8, 5, State.TopAbs_IN), (4, 4, 5, State.TopAbs_OUT), (8, 8, THICK, State.TopAbs_ON)]
)
def test_few_faces_and_many_are_answered_alike(plate: Body, x: float, y: float, z: float, state: State) -> None:
    one = cut(box((0, 0, 0), (PITCH, PITCH, THICK)), [cylinder((4, 4, -1), (4, 4, THICK + 1), 2 * RADIUS)])
    assert Sides(plate).state(gp_Pnt(x, y, z)) == state
    assert Sides(one).state(gp_Pnt(x - 0.001, y - 0.001, z)) == state
    assert Sides(plate).state(gp_Pnt(x, y, z + 1e-4), 1e-3) == state


@pytest.mark.parametrize("z", [0.0, THICK])
def test_the_middle_of_a_mouth_is_outside(plate: Body, z: float) -> None:
    assert Rays(plate).state(gp_Pnt(PITCH * 5 + 4.2, PITCH * 6 + 4.1, z)) == State.TopAbs_OUT


@pytest.mark.parametrize(
    ("x", "y", "z"), [(8.0, 8.0, THICK), (8.0, 8.0, 0.0), (4.0, 4 + RADIUS, 5.0), (8.0, 8.0, THICK - 1e-7)]
)
def test_a_point_on_a_face_is_on_the_surface_whatever_the_kernel_says(
    plate: Body, x: float, y: float, z: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The kernel's classifier said inside for a point 6e-9 off a face of 9 mm2, seen in a stock of 848 faces."""
    monkeypatch.setattr(rays, "BRepClass3d_SolidClassifier", lambda _: SimpleNamespace(Perform=_nothing, State=_within))
    assert Sides(plate).state(gp_Pnt(x, y, z)) == State.TopAbs_ON


def _nothing(*_: object) -> None:
    """Takes a point and a tolerance."""


def _within() -> State:
    """Says inside of any point."""
    return State.TopAbs_IN


@pytest.mark.parametrize("off", [1e-5, -1e-5])
def test_a_point_beside_a_face_is_left_to_the_kernel(plate: Body, off: float) -> None:
    assert Rays(plate).state(gp_Pnt(8.0, 8.0, THICK + off)) is None
    assert Sides(plate).state(gp_Pnt(8.0, 8.0, THICK + off)) == (State.TopAbs_OUT if off > 0 else State.TopAbs_IN)


def test_an_edge_is_left_to_the_kernel(plate: Body) -> None:
    assert Rays(plate).state(gp_Pnt(4 + RADIUS, 4.0, THICK)) is None


def test_what_lies_within_a_tolerance_is_on_the_skin(plate: Body) -> None:
    """1e-3 over and under the top: on it within 1e-2, outside and inside for what the kernel takes for nothing."""
    sides = Sides(plate)
    for z, alone in ((THICK + 1e-3, State.TopAbs_OUT), (THICK - 1e-3, State.TopAbs_IN)):
        assert sides.state(gp_Pnt(8.0, 8.0, z), 1e-2) == State.TopAbs_ON
        assert sides.state(gp_Pnt(8.0, 8.0, z)) == alone


def test_what_the_kernel_throws_at_a_face_leaves_the_answer_to_its_own_classifier(
    plate: Body, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Seen on faces of rings with an edge of a tolerance of 4 mm; what the classifier throws names the step."""

    def thrown(*_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(rays, "IntCurvesFace_Intersector", lambda *_: SimpleNamespace(Perform=thrown))
    assert Sides(plate).state(gp_Pnt(8, 8, 5)) == State.TopAbs_IN
    monkeypatch.setattr(rays, "BRepClass3d_SolidClassifier", thrown)
    with pytest.raises(KernelError, match="side of a point"):
        Sides(plate).state(gp_Pnt(8, 8, 5))
