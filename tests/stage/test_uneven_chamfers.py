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
