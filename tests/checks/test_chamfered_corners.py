"""A block with all upper and upright edges chamfered: cutters that follow the edges pass by the facets at its corners.

Of legs c the facet lies on x + y + z = 2 c, reckoned from the corner. Over its outline, the triangle (c, 0) (0, c)
(c, c), metal stands from there up to the top: c / 3 * c^2 = c^3 / 3 of it, over a facet of c^2 * sqrt(3) / 2.
"""

from __future__ import annotations

import math

import pytest

from schemas.finding import Finding
from tests.recognise.parts import block, chamfered
from tests.support.block import judged
from tests.support.trial import Json, plan, raw_box, setup, step, tool
from worker.kernel.boolean import cut
from worker.kernel.primitives import cylinder
from worker.kernel.shape import Body
from worker.kernel.stepio import write_step

CORNERS = [[x, y, 19.3] for x in (0.65, 39.35) for y in (0.65, 29.35)]


def _part(leg: float) -> bytes:
    body: Body = chamfered(block(40, 30, 20), leg, lambda a, b: max(a[2], b[2]) > 1)
    return write_step(body, "mm", "block")


def _left(leg: float, *more: Json) -> list[Finding]:
    edges = [{"class": "chamfer", "at": at} for at in _edges(leg)]
    steps = [
        step("side_finish_milling", tool("endmill", 10), {"class": "profile_feature"}),
        step("chamfering", tool("chamfer_mill", 12, SIG=90, LU=20), *edges),
    ]
    found, _ = judged(plan(raw_box((0, 0, 0), (40, 30, 20)), setup([*steps, *more])), _part(leg))
    return [f for f in found if f.code.startswith("left.")]


def _edges(leg: float) -> list[list[float]]:
    half, z = leg / 2, 20 - leg / 2
    return [[half, 15, z], [40 - half, 15, z], [20, half, z], [20, 30 - half, z]]


@pytest.mark.parametrize("leg", [0.5, 1.0])
def test_small_corners_are_a_matter_of_the_file(leg: float) -> None:
    (found,) = _left(leg)
    assert (found.code, found.level, len(found.features)) == ("left.stock", "warning", 4)
    assert found.measured == pytest.approx(2 * leg / (3 * math.sqrt(3)), rel=1e-4)


def test_large_corners_want_a_step() -> None:
    """2 * 2 / (3 * sqrt(3)) = 0.77 mm is more than is filed off."""
    found = _left(2.0)
    assert {(f.code, f.level) for f in found} == {("left.feature", "error"), ("left.stock", "error")}
    assert [f.measured for f in found if f.code == "left.stock"] == [pytest.approx(8 / 3, rel=1e-6)]  # each corner


@pytest.mark.parametrize(
    ("operation", "cutter"),
    [
        ("freeform_operation", tool("ballnose_endmill", 6, RE=3)),
        ("chamfering", tool("chamfer_mill", 12, SIG=2 * math.degrees(math.asin(1 / math.sqrt(3))), LU=20)),
    ],
)
def test_a_step_that_names_them_finishes_them(operation: str, cutter: Json) -> None:
    """A facet that looks the same way along all three axes leans by asin(1 / sqrt(3)) from the upright."""
    assert _left(1.0, step(operation, cutter, *_corners())) == []


def test_a_step_that_names_them_and_leaves_them_is_at_fault() -> None:
    """A flank of 45 degrees touches a facet that leans by 35 from the upright in one point."""
    found = _left(1.0, step("chamfering", tool("chamfer_mill", 12, SIG=90, LU=20), *_corners()))
    assert {(f.code, f.level) for f in found} == {("left.stock", "error")}


def _corners() -> list[Json]:
    return [{"class": "chamfer", "at": at} for at in CORNERS]


def test_a_mouth_that_nobody_breaks_is_no_corner() -> None:
    """Free-form rings of legs 0.5 round both mouths of a bore across a bar: thin, and without a length, but edges."""
    bar, bore = cylinder((0, 0, 0), (0, 0, 24), 40), cylinder((0, -30, 12), (0, 30, 12), 10)
    part = chamfered(
        cut(bar, [bore]), 0.5, lambda a, b: all(abs(math.hypot(*p[:2]) - 20) < 1e-6 < p[2] < 23 for p in (a, b))
    )
    works = [step("drilling", tool("twist_drill", 10, SIG=118, LU=60), {"class": "round_hole"}, overcut_length=1)]
    document = plan({"step": "RAW"}, setup(works, axis=(0, 1, 0)))
    found, _ = judged(document, write_step(part, "mm", "bar"), {"RAW": write_step(bar, "mm", "bar")})
    told = [f for f in found if f.code.startswith("left.")]
    assert {(f.code, f.level) for f in told} == {("left.feature", "error"), ("left.stock", "error")}


def _is_on_skin(at: tuple[float, float, float]) -> bool:
    """On the round of the bar, away from its ends."""
    return abs(math.hypot(at[0], at[1]) - 20) < 1e-6 and 2 < at[2] < 22
