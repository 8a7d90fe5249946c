"""Where a drill's own wall touches another one along a line, there is nothing to gouge (seen by closed form)."""

from __future__ import annotations

import json
import math

import pytest

from schemas.base import Frame
from worker.cache.kept import Kept
from worker.cache.rooms import Rooms
from worker.inputs import read_inputs
from worker.kernel import boolean, primitives, stepio
from worker.kernel.shape import WORLD, Body, move_body
from worker.pipeline import cut_all, looked_at
from worker.stage.model import Stage

TURNED = Frame(
    location=(180.27436671196403, -157.5737674943869, -79.57310323331224),
    axis=(0.014417255583026443, -0.17498080537326968, -0.984466282049505),
    ref_direction=(0.6766200012472905, 0.7266134063093722, -0.11924064610529331),
)
FRAMES = {"as drawn": WORLD, "turned": TURNED}
SIZE = (62.0, 63.5, 26.5)
BLANK = ((-1.5, -1.5, -11.5), (63.5, 65.0, 27.5))


def _part() -> Body:
    """A slot along X whose floor, at 22.5, a blind hole from +Y (ø 8, axis at 18.5) touches along a line."""
    floor = 63.5 - 17.5
    point = floor - 4 / math.tan(math.radians(59))
    hole = boolean.fuse(
        [
            primitives.cylinder((51.5, 68.5, 18.5), (51.5, floor, 18.5), 8),
            primitives.cone((51.5, floor, 18.5), (51.5, point, 18.5), 8, 0.0),
        ]
    )
    slot = primitives.box((-5, 42.5, 22.5), (67, 47.5, 31.5))
    return boolean.cut(primitives.box((0, 0, 0), SIZE), [slot, hole])


def _drilled(frame: Frame) -> Stage:
    def moved(body: Body) -> bytes:
        return stepio.write_step(move_body(body, WORLD, frame), "mm", "body")

    step = {"id": "10", "operation": "drilling", "tool": "D", "features": [{"class": "round_hole"}]}
    origin = {"location": frame.to_world((27.5, 63.5, 7.5)), "axis": frame.y, "ref_direction": frame.x}
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 120, "jaw_height": 45, "parallel_height": 30}
    plan = {
        "plan_version": 1,
        "units": "mm",
        "workpiece": {"rawpiece": {"step": "raw"}},
        "tools": [{"id": "D", "type": "twist_drill", "DC": 8, "SIG": 118, "LU": 24, "stickout": 32}],
        "setups": [{"id": "S1", "origin": origin, "workholding": vise, "workingsteps": [step]}],
    }
    rooms = Rooms(Kept())
    raw = moved(primitives.box(*BLANK))
    inputs, resolved = looked_at(read_inputs(moved(_part()), json.dumps(plan).encode(), {"raw": raw}, rooms.part))
    (stage,) = cut_all(inputs, resolved, lambda _: None, rooms)
    return stage


@pytest.mark.parametrize("name", FRAMES)
def test_a_line_of_contact_is_no_gouge_and_no_fault(name: str) -> None:
    cut = _drilled(FRAMES[name]).cuts[0]
    assert cut.gouge_fault == ""
    assert cut.gouge is None
