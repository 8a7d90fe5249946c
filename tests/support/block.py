"""A small block with one feature of each kind, the sound plan that makes it, and the product's judgement of a plan."""

from __future__ import annotations

import copy
import functools
import json
from collections.abc import Mapping
from typing import Any

from schemas.base import Frame
from schemas.finding import Finding
from schemas.report import RuleRun
from tests.support.kept import kept
from worker.cache.rooms import Rooms
from worker.checks.api import Context
from worker.checks.run import run_checks
from worker.inputs import read_inputs
from worker.kernel import boolean, stepio
from worker.kernel import primitives as solid
from worker.kernel.shape import Body
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

Json = dict[str, Any]
POINT_118 = 0.30043031
"""Length of a 118 degree point per diameter: 1 / (2 tan 59 degrees)."""


def blind(x: float, y: float, diameter: float, depth: float, top: float = 20.0) -> Body:
    """A drilled hole with a 118 degree point; ``depth`` of its cylinder below the top."""
    floor = top - depth
    shaft = solid.cylinder((x, y, top + 1), (x, y, floor), diameter)
    point = solid.cone((x, y, floor), (x, y, floor - POINT_118 * diameter), diameter, 0.0)
    return boolean.fuse([shaft, point])


def through(x: float, y: float, diameter: float) -> Body:
    """A through hole along Z."""
    return solid.cylinder((x, y, -1), (x, y, 21), diameter)


def pocket() -> Body:
    """24 x 16 x 8 deep with corner radius 4, on the top."""
    (x0, y0), (x1, y1), r = (8.0, 12.0), (32.0, 28.0), 4.0
    corners = [(x, y) for x in (x0 + r, x1 - r) for y in (y0 + r, y1 - r)]
    parts = [solid.box((x0 + r, y0, 12), (x1 - r, y1, 21)), solid.box((x0, y0 + r, 12), (x1, y1 - r, 21))]
    return boolean.fuse([*parts, *(solid.cylinder((x, y, 12), (x, y, 21), 2 * r) for x, y in corners)])


@functools.cache
def block() -> bytes:
    """60 x 40 x 20: pocket, slot 6 x 5, 2 x ø6.6, ø10 through, ø8 and a hole for M6 blind, a 1 mm chamfer."""
    body = boolean.cut(
        solid.box((0, 0, 0), (60, 40, 20)),
        [
            pocket(),
            solid.box((46, -1, 15), (52, 41, 21)),
            through(5, 5, 6.6),
            through(5, 35, 6.6),
            through(39, 20, 10),
            blind(39, 8, 8, 12),
            blind(39, 32, 5, 14),
            _chamfer(),
        ],
    )
    return stepio.write_step(body, "mm", "block")


def _chamfer() -> Body:
    """The wedge along the top edge at x = 60."""
    frame = Frame(location=(60.0, -1.0, 20.0), axis=(1.0, 0.0, 1.0), ref_direction=(0.0, 1.0, 0.0))
    depth = 1.0 / 2**0.5
    return solid.box((0.0, -5.0, -depth), (42.0, 5.0, 5.0), frame)


TOOLS: list[Json] = [
    {"id": "FM", "type": "facemill", "DC": 50, "APMX": 9, "LU": 9, "stickout": 40, "NOF": 5},
    {"id": "EM12", "type": "endmill", "DC": 12, "APMX": 32, "LU": 34, "stickout": 45, "NOF": 3},
    {"id": "EM6", "type": "endmill", "DC": 6, "APMX": 12, "LU": 14, "stickout": 30, "NOF": 3},
    {"id": "SP", "type": "spotdrill", "DC": 8, "SIG": 90, "LU": 10, "stickout": 35},
    {"id": "D66", "type": "twist_drill", "DC": 6.6, "SIG": 118, "LU": 60, "stickout": 70},
    {"id": "D98", "type": "twist_drill", "DC": 9.8, "SIG": 118, "LU": 60, "stickout": 70},
    {"id": "R10", "type": "reaming_cutting_tool", "DC": 10, "LU": 40, "stickout": 60},
    {"id": "D8", "type": "twist_drill", "DC": 8, "SIG": 118, "LU": 60, "stickout": 70},
    {"id": "D5", "type": "twist_drill", "DC": 5, "SIG": 118, "LU": 40, "stickout": 50},
    {"id": "M6", "type": "tapping_cutting_tool", "thread": "M6", "LU": 25, "stickout": 45},
    {"id": "CH", "type": "chamfer_mill", "DC": 8, "SIG": 90, "LU": 10, "stickout": 35},
]


def _hole(x: float, y: float, diameter: float) -> list[Json]:
    return [{"class": "round_hole", "diameter": diameter, "at": [x, y, 10]}]


def _step(id: str, operation: str, tool: str, features: list[Json], **keys: Any) -> Json:
    return {"id": id, "operation": operation, "tool": tool, "features": features, **keys}


TOP = [{"class": "planar_face", "normal": [0, 0, 1], "at": [1, 20, 20]}]
BOTTOM = [{"class": "planar_face", "normal": [0, 0, -1]}]
PROFILE = [{"class": "profile_feature"}]
POCKET = [{"class": "closed_pocket"}]
SLOT = [{"class": "slot"}]
FOUR = [{"class": "round_hole", "diameter": 6.6, "count": 2}]
REAMED, BLIND, TAPPED = _hole(39, 20, 10), _hole(39, 8, 8), _hole(39, 32, 5)
STEPS_1: list[Json] = [
    _step("10", "plane_finish_milling", "FM", TOP),
    _step("20", "side_finish_milling", "EM12", PROFILE, bottom_z=-21),
    _step("30", "bottom_and_side_rough_milling", "EM12", POCKET, allowance_side=0.2, allowance_bottom=0.1),
    _step("40", "bottom_and_side_finish_milling", "EM6", POCKET),
    _step("50", "bottom_and_side_finish_milling", "EM6", SLOT),
    _step("60", "center_drilling", "SP", FOUR),
    _step("70", "drilling", "D66", FOUR, overcut_length=1),
    _step("80", "drilling", "D98", REAMED, overcut_length=1),
    _step("90", "reaming", "R10", REAMED, overcut_length=1),
    _step("100", "drilling", "D8", BLIND),
    _step("110", "drilling", "D5", TAPPED),
    _step("120", "tapping", "M6", TAPPED, cutting_depth=11),
    _step("130", "chamfering", "CH", [{"class": "chamfer"}]),
]
VISE: Json = {
    "type": "vise",
    "jaw_axis": "Y",
    "jaw_width": 100,
    "jaw_height": 36,
    "parallel_height": 30,
    "max_opening": 120,
    "clamping_force": 20000,
}
SOUND: Json = {
    "plan_version": 1,
    "units": "mm",
    "workpiece": {
        "material": {"name": "aluminium", "iso513_group": "N"},
        "rawpiece": {"box": {"min": [-2, -2, -10], "max": [62, 42, 22]}},
    },
    "tools": TOOLS,
    "setups": [
        {
            "id": "S1",
            "origin": {"location": [0, 0, 20], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
            "workholding": VISE,
            "workingsteps": STEPS_1,
        },
        {
            "id": "S2",
            "origin": {"location": [0, 40, 0], "axis": [0, 0, -1], "ref_direction": [1, 0, 0]},
            "workholding": {**VISE, "jaw_height": 38},
            "workingsteps": [_step("10", "plane_finish_milling", "FM", BOTTOM)],
        },
    ],
}


def sound() -> Json:
    """A fresh copy of the plan that nothing is wrong with."""
    return copy.deepcopy(SOUND)


def step_of(plan: Json, id: str, setup: int = 0) -> Json:
    """One workingstep of a plan."""
    found: Json = next(s for s in plan["setups"][setup]["workingsteps"] if s["id"] == id)
    return found


def tool_of(plan: Json, id: str) -> Json:
    """One tool of a plan."""
    found: Json = next(t for t in plan["tools"] if t["id"] == id)
    return found


def swap(plan: Json, first: str, second: str, setup: int = 0) -> None:
    """Let two steps change places."""
    steps = plan["setups"][setup]["workingsteps"]
    i, j = (next(k for k, s in enumerate(steps) if s["id"] == id) for id in (first, second))
    steps[i], steps[j] = steps[j], steps[i]


def context_of(plan: Json, part: bytes | None = None, files: Mapping[str, bytes] | None = None) -> Context:
    """The plan cut by the product, ready for its rules; reach is left to the reach room's own tests."""
    rooms = Rooms(kept())
    inputs = read_inputs(part or block(), json.dumps(plan).encode(), files or {}, rooms.part)
    resolved = resolve(inputs.plan, inputs.part.features, on_feature_of(inputs.part))
    stages = cut_all(inputs, resolved, lambda _: None, rooms)
    return Context(plan=inputs.plan, part=inputs.part, stages=stages, finish=rooms.finish(inputs.part, stages))


def judged(
    plan: Json, part: bytes | None = None, files: Mapping[str, bytes] | None = None
) -> tuple[tuple[Finding, ...], tuple[RuleRun, ...]]:
    """Findings and runs of all rules."""
    return run_checks(context_of(plan, part, files))


def told(plan: Json, part: bytes | None = None, files: Mapping[str, bytes] | None = None) -> list[Finding]:
    """Findings above the level of a note."""
    return [f for f in judged(plan, part, files)[0] if f.level != "note"]


def places(findings: list[Finding]) -> set[tuple[str, str | None, str | None]]:
    """Code, setup and step of findings."""
    return {(f.code, f.setup, f.workingstep) for f in findings}


def one_setup(steps: list[Json], *tools: Json) -> Json:
    """A plan of one setup on a blank of the block's own size, with these steps and further tools."""
    plan = sound()
    plan["setups"] = plan["setups"][:1]
    plan["setups"][0]["workingsteps"] = steps
    plan["tools"] += tools
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, 0], "max": [60, 40, 20]}}
    return plan


def solid_block() -> Body:
    """The block without any feature."""
    return solid.box((0, 0, 0), (60, 40, 20))


def as_step(body: Body) -> bytes:
    """The body as a STEP file."""
    return stepio.write_step(body, "mm", "part")
