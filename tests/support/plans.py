"""A small plan in one setup, for tests that need one around something else."""

from __future__ import annotations

import json
from typing import Any


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
