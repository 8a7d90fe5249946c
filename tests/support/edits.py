"""A plan that states nearly everything a plan can, and single edits of each of its values."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

from tests.support.plate import on_plate

Json = dict[str, Any]
Path = tuple[str | int, ...]
ENUMS = {
    "operation": "drilling", "type": "endmill", "units": "inch", "class": "slot", "iso513_group": "P",
    "as_is": "rawpiece", "jaw_axis": "X", "jaw_surface": "serrated", "hold.marked": "error", "cut.nothing": "off",
    "currency": "CHF",
}  # fmt: skip
"""What words become that are one of a list."""
ADDED: dict[Path, Json] = {
    ("setups", 1): {"work_offset": "G59"},
    ("setups", 1, "workingsteps", 0): {"bottom_z": -0.5},
    ("setups", 0, "workingsteps", 0): {"cutting_depth": 4.0},
    ("tools", 0): {"holder": [{"diameter": 30, "length": 40}]},
    ("policy", "limits"): {"least_grip_depth": 30.0},
    (): {"name": "another"},
}
"""Values that the plan does not state, put in at a place each."""


def full_plan() -> Json:
    """The plate's plan with a second setup in a vise and every optional value."""
    plan = on_plate()
    plan |= {
        "name": "plate",
        "policy": {
            "levels": {"hold.marked": "warning", "cut.nothing": "error"}, "limits": {"least_wall_thickness": 0.8},
        },
        "machine": {
            "name": "mill", "travel": [600, 400, 450], "max_spindle_speed": 9000, "max_spindle_power": 11.0,
            "max_spindle_torque": 60.0, "max_feed": 8000.0, "rapid_feed": 20000.0, "tool_change_time": 5.0,
        },
        "rates": {
            "currency": "EUR", "machine_hour": 80.0, "setup_hour": 50.0, "setup_time": 20.0, "clamping_time": 1.0,
            "material_per_kg": 6.0, "lot_size": 10,
        },
    }  # fmt: skip
    plan["workpiece"] |= {"material": {"name": "6082", "iso513_group": "N", "density_kg_m3": 2700.0}}
    plan["workpiece"]["rawpiece"] = {"box": {"min": [0, 0, -2], "max": [80, 50, 10]}}
    plan["tools"].append(
        {"id": "FM", "type": "facemill", "DC": 50, "APMX": 9, "LU": 9, "stickout": 40, "NOF": 5, "DMM": 22,
         "holder": [{"diameter": 40, "length": 30}, {"diameter": 40, "top_diameter": 60, "length": 20}]}
    )  # fmt: skip
    first = plan["setups"][0]
    first |= {"name": "top", "work_offset": "G54", "instructions": "clean the bars", "as_is": "rawpiece"}
    for element in first["workholding"]["elements"]:
        if element["type"] == "jack":
            element["cylinder"]["to"][2] = -12
    first["workingsteps"][1] |= {
        "name": "pocket", "allowance_side": 0.1, "allowance_bottom": 0.1, "enabled": True,
        "technology": {
            "cutspeed": 200.0, "feed_per_tooth": 0.05, "axial_cutting_depth": 2.0, "radial_cutting_depth": 4.0,
        },
    }  # fmt: skip
    plan["setups"].append(
        {
            "id": "S2", "name": "underside",
            "origin": {
                "location": {"on": "part", "at": ["mid", "mid", "max"]}, "axis": [0, 0, -1], "ref_direction": [1, 0, 0],
            },
            "as_is": "carried",
            "workholding": {
                "type": "vise", "jaw_axis": "Y", "jaw_width": 60, "jaw_height": 36, "jaw_thickness": 20,
                "parallel_height": 30, "parallel_thickness": 6, "jaw_offset": 1.0, "max_opening": 100,
                "clamping_force": 15000, "jaw_surface": "smooth",
            },
            "workingsteps": [
                {"id": "10", "operation": "plane_rough_milling", "tool": "FM", "allowance_bottom": 0.3,
                 "features": [{"class": "planar_face", "normal": [0, 0, -1]}],
                 "technology": {"spindle_speed": 3000.0, "feed_per_tooth": 0.1}},
                {"id": "20", "operation": "plane_finish_milling", "tool": "FM",
                 "features": [{"class": "planar_face", "normal": [0, 0, -1]}]},
            ],
        }
    )  # fmt: skip
    return plan


def edits(plan: Json) -> list[tuple[str, Json]]:
    """Each value of the plan changed, alone; and each value that it lacks, put in."""
    found = []
    for path, value in _leaves(plan, ()):
        for changed in _changed(path, value):
            found.append((f"{_words(path)} = {changed!r}", _set(plan, path, changed)))
    for place, more in ADDED.items():
        found.append((f"{_words(place)} + {more}", _set(plan, place, _at(plan, place) | more)))
    for i, j in ((0, 0), (0, 1), (1, 1)):
        rest = [s for k, s in enumerate(plan["setups"][i]["workingsteps"]) if k != j]
        found.append((f"without step {i}/{j}", _set(plan, ("setups", i, "workingsteps"), rest)))
    return found


def _leaves(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _leaves(inner, (*path, number))
    else:
        yield path, value


def _changed(path: Path, value: Any) -> list[Any]:
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int | float):
        return [value + 1 if isinstance(value, int) else value * 1.25]
    word = ENUMS.get(str(path[-1]))
    return [word if word and word != value else f"{value}x"]


def _words(path: Path) -> str:
    return "/" + "/".join(map(str, path))


def _at(plan: Json, path: Path) -> Any:
    found: Any = plan
    for key in path:
        found = found[key]
    return found


def _set(plan: Json, path: Path, value: Any) -> Json:
    changed = copy.deepcopy(plan)
    if not path:
        return dict(value)
    _at(changed, path[:-1])[path[-1]] = value
    return changed
