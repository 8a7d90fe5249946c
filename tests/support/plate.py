"""A plate on jacks against locators under two clamps, and the sound plan that drills and pockets it."""

from __future__ import annotations

import copy
import functools
from typing import Any

from tests.support.block import Json
from worker.kernel import boolean, stepio
from worker.kernel import primitives as solid


@functools.cache
def plate() -> bytes:
    """80 x 50 x 10, two through holes of 6 mm, a pocket of 20 x 14 x 4 with corner radius 4."""
    pocket = [solid.box((34, 18, 6), (46, 32, 11)), solid.box((30, 22, 6), (50, 28, 11))]
    rounds = [solid.cylinder((x, y, 6), (x, y, 11), 8) for x in (34, 46) for y in (22, 28)]
    holes = [solid.cylinder((x, 25, -1), (x, 25, 11), 6) for x in (20, 60)]
    body = boolean.cut(solid.box((0, 0, 0), (80, 50, 10)), [boolean.fuse([*pocket, *rounds]), *holes])
    return stepio.write_step(body, "mm", "plate")


def _post(type: str, x: float, y: float, diameter: float, low: float, high: float, **keys: Any) -> Json:
    return {"type": type, "cylinder": {"diameter": diameter, "from": [x, y, low], "to": [x, y, high]}, **keys}


ELEMENTS: list[Json] = [
    {"type": "plate", "name": "base", "box": {"min": [-40, -40, -60], "max": [120, 90, -30]}},
    *(_post("jack", x, y, 8, -30, -10, name=f"jack {x} {y}") for x in (6, 74) for y in (6, 44)),
    _post("locator", 20, -4, 8, -30, -2, name="locator left"),
    _post("locator", 60, -4, 8, -30, -2, name="locator right"),
    _post("locator", -4, 25, 8, -30, -2, name="locator end"),
    {"type": "clamp", "name": "clamp 1", "box": {"min": [-20, 20, 0], "max": [8, 30, 12]}, "force": 4000},
    {"type": "clamp", "name": "clamp 2", "box": {"min": [72, 20, 0], "max": [100, 30, 12]}, "force": 4000},
]
SOUND: Json = {
    "plan_version": 1,
    "units": "mm",
    "workpiece": {"rawpiece": {"box": {"min": [0, 0, 0], "max": [80, 50, 10]}}},
    "tools": [
        {"id": "D6", "type": "twist_drill", "DC": 6, "SIG": 118, "LU": 40, "stickout": 60},
        {"id": "EM8", "type": "endmill", "DC": 8, "APMX": 12, "LU": 20, "stickout": 40},
    ],
    "setups": [
        {
            "id": "S1",
            "origin": {"location": [0, 0, 10], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
            "workholding": {"type": "fixture_plate", "elements": ELEMENTS},
            "workingsteps": [
                {
                    "id": "10",
                    "operation": "drilling",
                    "tool": "D6",
                    "features": [{"class": "round_hole", "count": 2}],
                    "overcut_length": 1,
                },
                {
                    "id": "20",
                    "operation": "bottom_and_side_finish_milling",
                    "tool": "EM8",
                    "features": [{"class": "closed_pocket"}],
                },
            ],
        }
    ],
}


def on_plate() -> Json:
    """A fresh copy of the sound plan."""
    return copy.deepcopy(SOUND)


def element(plan: Json, name: str) -> Json:
    """One element of the fixture."""
    found: Json = next(e for e in plan["setups"][0]["workholding"]["elements"] if e.get("name") == name)
    return found


def move(plan: Json, name: str, x: float = 0, y: float = 0, z: float = 0) -> None:
    """Shift one element of the fixture."""
    shape = element(plan, name).get("box") or element(plan, name)["cylinder"]
    for corner in shape.values():
        if isinstance(corner, list):
            corner[:] = [corner[0] + x, corner[1] + y, corner[2] + z]


def remove(plan: Json, *names: str) -> None:
    """Take elements of the fixture away."""
    elements = plan["setups"][0]["workholding"]["elements"]
    elements[:] = [e for e in elements if e.get("name") not in names]
