"""Points that tell where left metal lies, against boxes worked by hand."""

from __future__ import annotations

import pytest
from OCP.TopoDS import TopoDS_Face

from schemas.base import Frame, Vec3
from worker.checks._within import MOST_POINTS, any_within, inner_points, is_spared
from worker.kernel import measure
from worker.kernel.errors import KernelError
from worker.kernel.planar import rectangle
from worker.kernel.primitives import box
from worker.stage.model import Spared

LEVEL = Spared(0.0, 10.0, rectangle(0, 0, 10, 10), rectangle(2, 2, 8, 8), (0.0, 0.0, 9.0, 10.0))
"""Free over 10 x 10, covered over 6 x 6 of that; the metal ends at x = 9."""


@pytest.mark.parametrize(
    ("point", "spared"),
    [
        ((1, 1, 5), True),
        ((5, 5, 5), False),  # covered
        ((1, 1, 11), False),  # above
        ((1, 1, -1), False),
        ((9.5, 5, 5), False),  # past the metal
        ((5, 11, 5), False),  # not free
    ],
)
def test_what_a_level_leaves_free_but_uncovered(point: Vec3, spared: bool) -> None:
    assert is_spared([point], LEVEL, Frame()) == spared
    assert is_spared([(5.0, 5.0, 5.0), point], LEVEL, Frame()) == spared


def test_a_sliver_without_an_inner_point_has_nothing_to_say(monkeypatch: pytest.MonkeyPatch) -> None:
    """A patch of a cylinder 9e-6 mm wide, of which the kernel finds no inner point, broke three rules off."""
    inside = iter([None, None, KernelError("point in face", "no inner point"), None, None, None])

    def asked(face: TopoDS_Face) -> Vec3:
        fault = next(inside)
        if fault is not None:
            raise fault
        return found(face)

    found = measure.face_point_inside
    monkeypatch.setattr(measure, "face_point_inside", asked)
    assert len(inner_points(box((0, 0, 0), (4, 6, 9)))) == 5


def test_points_lie_just_within_each_face() -> None:
    found = inner_points(box((0, 0, 0), (4, 6, 8)))
    assert len(found) == 6 <= MOST_POINTS
    assert {round(min(x, 4 - x, y, 6 - y, z, 8 - z), 6) for x, y, z in found} == {0.001}
    assert any_within(found, [box((-1, -1, -1), (5, 7, 1))])
    assert not any_within(found, [box((1, 1, 1), (3, 5, 7))])
