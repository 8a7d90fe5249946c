"""A small plan in one setup, for tests that need one around something else."""

from __future__ import annotations

import copy
import json
from typing import Any

from schemas.finding import Remedy


def plan_bytes(*, features: list[Any], **step: Any) -> bytes:
    """One drilling step on ``features``, in a vise; ``step`` overrides keys of the workingstep."""
    return json.dumps({
        "plan_version": 1, "units": "mm",
        "workpiece": {"rawpiece": {"box": {"min": [0, -20, 0], "max": [100, 20, 20]}}},
        "tools": [{"id": "T1", "type": "twist_drill", "DC": 6.6, "SIG": 118, "LU": 50, "stickout": 60}],
        "setups": [{
            "id": "S1",
            "origin": {"location": [0, 0, 20], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
            "workholding": {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 30, "parallel_height": 20},
            "workingsteps": [{"id": "10", "operation": "drilling", "tool": "T1", "features": features, **step}],
        }],
    }).encode()  # fmt: skip


def drilled_block(height: float, **selector: Any) -> dict[str, Any]:
    """A block of 60 x 40 with that height in a vise, its hole of 6 mm drilled through; ``selector`` names the hole."""
    vise = {"type": "vise", "jaw_axis": "Y", "jaw_width": 100, "jaw_height": 40, "parallel_height": 30}
    drilling = {"id": "10", "operation": "drilling", "tool": "T1", "overcut_length": 1.0,
                "features": [{"class": "round_hole", **selector}]}  # fmt: skip
    return {
        "plan_version": 1, "units": "mm",
        "workpiece": {"rawpiece": {"box": {"min": [0, 0, 0], "max": [60, 40, height]}}},
        "tools": [{"id": "T1", "type": "twist_drill", "DC": 6.0, "SIG": 118, "LU": 60, "stickout": 70}],
        "setups": [{
            "id": "S1", "as_is": "rawpiece", "workholding": vise, "workingsteps": [drilling],
            "origin": {"location": [0, 0, height], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
        }],
    }  # fmt: skip


def applied(plan: dict[str, Any], remedy: Remedy | None) -> dict[str, Any]:
    """A copy of the plan with the remedy's value set where its pointer points."""
    assert remedy is not None and remedy.pointer is not None and remedy.value is not None
    changed = copy.deepcopy(plan)
    *path, last = remedy.pointer.strip("/").split("/")
    here: Any = changed
    for key in path:
        here = here[int(key)] if isinstance(here, list) else here.setdefault(key, {})
    here[int(last) if isinstance(here, list) else last] = remedy.value
    return changed
