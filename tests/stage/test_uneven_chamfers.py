"""A chamfer that stands at more than one angle under a straight flank: what surely goes, against an integral."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from examples import shapes
from tests.support.trial import plan, raw_box, setup, step, step_bytes, tool
from worker.pipeline import check_plan

RADIUS, LEG, FLOOR, TOP = 20.0, 1.0, 16.0, 22.0


def slice_of_a_bar() -> shapes.Shape:
    """What lies above z = 16 of a bar along X, 30 long and 20 in radius; the arc at x = 0 broken by a cone of leg 1."""
    bar = shapes.fuse(shapes.cylinder((1, 0, 0), (30, 0, 0), 40), shapes.cone((0, 0, 0), (1, 0, 0), 38, 40))
    return shapes.common(bar, shapes.box((-1, -20, FLOOR), (31, 20, TOP)))


def left_under(half: float) -> tuple[float, float]:
    """What the flank may leave, normal to the chamfer and upright (mm): its width by the sine of what angles differ.

    The cone's normal stands at sin 45 cos t to Z, t about X from the top to where the cone meets z = 16.
    """
    t = math.acos(FLOOR / RADIUS)
    low = math.degrees(math.asin(math.sin(math.pi / 4) * math.cos(t)))
    left = math.sqrt(2) * LEG * math.sin(math.radians(max(abs(low - half), abs(45 - half))))
    return left, left / math.sin(math.radians(low))


def integral(raised: float, cells: int = 2000) -> float:
    """Volume between the chamfer, brought up by so much, and z = 22, where its face lies (mm3)."""
    x, y = np.meshgrid((np.arange(cells) + 0.5) / cells, 20 * (np.arange(cells) + 0.5) / cells, indexing="ij")
    under = (RADIUS - LEG + x) ** 2 - y**2
    z = np.sqrt(np.maximum(under, 0.0))
    return float(2 * np.where(z > FLOOR, np.maximum(TOP - z - raised, 0.0), 0.0).sum() * 20 / cells**2)


@pytest.mark.parametrize("angle", [90.0, 84.0])
def test_no_more_goes_than_the_flank_surely_takes(angle: float) -> None:
    cutter = tool("chamfer_mill", 12, SIG=angle, tip_diameter=1, stickout=60)
    document = plan(raw_box((0, -20, FLOOR), (30, 20, TOP)), setup([step("chamfering", cutter, {"class": "chamfer"})]))
    done = check_plan(step_bytes(slice_of_a_bar()), json.dumps(document).encode(), {})
    (cut,) = done.cut[0].cuts
    _, up = left_under(angle / 2)
    assert shapes.volume(cut.removal.wrapped) == pytest.approx(integral(up), rel=0.02)
    (agreed,) = done.report.evidence.agreement
    assert agreed.solid_volume == pytest.approx(agreed.field_volume, abs=1.0)
    assert "mm stays" in " ".join(cut.notes)


def test_a_ball_follows_it_whole() -> None:
    cutter = tool("ballnose_endmill", 4, stickout=60)
    document = plan(
        raw_box((0, -20, FLOOR), (30, 20, TOP)), setup([step("freeform_operation", cutter, {"class": "chamfer"})])
    )
    done = check_plan(step_bytes(slice_of_a_bar()), json.dumps(document).encode(), {})
    (cut,) = done.cut[0].cuts
    assert shapes.volume(cut.removal.wrapped) == pytest.approx(integral(0.0), rel=0.005)
    (agreed,) = done.report.evidence.agreement
    assert agreed.solid_volume == pytest.approx(agreed.field_volume, abs=1.0)


def rise_beside(radius: float) -> float:
    """How far a disc that follows the lower edge, the arc of radius 19 at x = 0, has to stay above it to clear the bar.

    A flank of 45 degrees that rolls along a curve climbing by k has its axis k of the way downhill and sqrt(1 - k2)
    square to it, in plan: only there does its width grow along the curve as the curve's distance does. It is as far
    off as half the tip, or as the upper edge, 1 in and cos t up, keeps it. Heights of the bar, and of what may be left
    on the chamfer: a grid of 0.02.
    """
    x, y = np.meshgrid(np.arange(0, 8, 0.02), np.arange(-14, 14, 0.02), indexing="ij")
    left = np.sqrt((RADIUS - LEG + x) ** 2 - y**2) + left_under(45.0)[1]
    top, found = np.minimum(np.sqrt(RADIUS**2 - y**2), left), []
    for t in np.linspace(0.0, math.acos(FLOOR / RADIUS), 400):
        square, down = math.sqrt(1 - math.tan(t) ** 2), math.tan(t)
        off = max(0.5, 0.5 + math.cos(t) - (square - math.sin(t) * down))
        at, low = (-off * square, (RADIUS - LEG) * math.sin(t) + off * down), (RADIUS - LEG) * math.cos(t)
        found.append(top[np.hypot(x - at[0], y - at[1]) < radius].max() - low if low > FLOOR else 0.0)
    return max(found)


def test_the_tip_climbs_along_so_a_shank_clears_what_is_high_beside_high_places_alone() -> None:
    """From the lowest tip, at 16, the top of the bar would be 4 up all along."""
    cutter = tool("chamfer_mill", 9, SIG=90, tip_diameter=1, LU=2, DMM=10, stickout=60)
    document = plan({"step": "RAW"}, setup([step("chamfering", cutter, {"class": "chamfer"})]))
    raw = shapes.common(shapes.cylinder((0, 0, 0), (30, 0, 0), 40), shapes.box((-1, -20, FLOOR), (31, 20, TOP)))
    files = {"RAW": step_bytes(raw)}
    found = check_plan(step_bytes(slice_of_a_bar()), json.dumps(document).encode(), files).report.findings
    (rubs,) = (f for f in found if f.code == "reach.shank")
    assert rubs.measured == pytest.approx(rise_beside(5.0) - 2, abs=0.02)
