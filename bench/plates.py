"""Plates with many holes and the plan that drills each in a step of its own: how time grows with workingsteps."""

from __future__ import annotations

import json
from typing import Any

from worker.kernel import boolean, primitives, stepio

PITCH = 12.0
COLUMNS = 20
THICKNESS = 15.0
HOLE = 6.0


def centres(count: int) -> list[tuple[float, float]]:
    """Hole centres, row by row."""
    return [(PITCH * (1 + i % COLUMNS), PITCH * (1 + i // COLUMNS)) for i in range(count)]


def size(count: int) -> tuple[float, float]:
    """Length and width of the plate."""
    rows = -(-count // COLUMNS)
    return PITCH * (COLUMNS + 1), PITCH * (rows + 1)


def part(count: int) -> bytes:
    """A plate with ``count`` through holes, as STEP."""
    length, width = size(count)
    plate = primitives.box((0.0, 0.0, 0.0), (length, width, THICKNESS))
    holes = [primitives.cylinder((x, y, -1.0), (x, y, THICKNESS + 1.0), HOLE) for x, y in centres(count)]
    return stepio.write_step(boolean.cut(plate, holes), "mm", "plate")


def plan(count: int) -> bytes:
    """One setup, one drilling step a hole."""
    length, width = size(count)
    steps: list[dict[str, Any]] = [
        {
            "id": str(10 * (i + 1)),
            "operation": "drilling",
            "tool": "T1",
            "overcut_length": 1.0,
            "features": [{"class": "round_hole", "at": [x, y, THICKNESS / 2]}],
        }
        for i, (x, y) in enumerate(centres(count))
    ]
    document = {
        "plan_version": 1, "name": f"plate with {count} holes", "units": "mm",
        "workpiece": {"rawpiece": {"box": {"min": [0, 0, 0], "max": [length, width, THICKNESS]}}},
        "tools": [{"id": "T1", "type": "twist_drill", "DC": HOLE, "SIG": 118, "LU": 40, "stickout": 50}],
        "setups": [{
            "id": "S1", "as_is": "rawpiece",
            "origin": {"location": [0, 0, THICKNESS], "axis": [0, 0, 1], "ref_direction": [1, 0, 0]},
            "workholding": {"type": "vise", "jaw_axis": "Y", "jaw_width": 300, "jaw_height": 28,
                            "parallel_height": 20, "parallel_thickness": 2},
            "workingsteps": steps,
        }],
    }  # fmt: skip
    return json.dumps(document).encode()
