"""Small plans for tests: a part of kernel primitives, a plan as JSON, and the product's path through both."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from examples import shapes
from examples.shapes import Shape
from worker.inputs import Inputs, read_inputs
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage.model import Cut, Stage

Json = dict[str, Any]
FAR_PLATE: Json = {
    "type": "fixture_plate",
    "elements": [{"type": "plate", "box": {"min": [-500, -500, -460], "max": [500, 500, -440]}}],
}
"""Workholding that stands in nobody's way: volumes alone are looked at."""


def step_bytes(shape: Shape, unit: str = "MM") -> bytes:
    """The solid as a STEP file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        shapes.write_step(shape, path, unit)
        return path.read_bytes()


def tool(type: str, DC: float | None = None, **sizes: Any) -> Json:
    """A tool named T with a generous stick-out."""
    found: Json = {"id": "T", "type": type, "stickout": 120, **sizes}
    if DC is not None:
        found["DC"] = DC
    if type.endswith("mill") and type != "chamfer_mill":
        found.setdefault("APMX", 100)
    return found


def step(operation: str, cutter: Json, *features: Json | str, **keys: Any) -> Json:
    """A workingstep that carries its own tool; ``plan`` takes the tools out and numbers both."""
    return {"operation": operation, "cutter": cutter, "features": list(features), **keys}


def setup(steps: Sequence[Json], axis: Sequence[float] = (0, 0, 1), **keys: Any) -> Json:
    """A setup whose origin is the top centre of the part in the setup's axes, unless ``location`` says otherwise."""
    ref = keys.pop("ref_direction", [1, 0, 0] if abs(axis[0]) < 0.9 else [0, 1, 0])
    location = keys.pop("location", {"on": "part", "at": ["mid", "mid", "max"]})
    origin = {"location": location, "axis": list(axis), "ref_direction": ref}
    return {"origin": origin, "workholding": FAR_PLATE, "workingsteps": list(steps), **keys}


def plan(rawpiece: Json, *setups: Json, units: str = "mm") -> Json:
    """A whole plan; ids are given in order."""
    tools: list[Json] = []
    numbered = []
    for i, one in enumerate(setups):
        steps = []
        for j, work in enumerate(one["workingsteps"]):
            cutter = {**work["cutter"], "id": f"T{len(tools) + 1}"}
            tools.append(cutter)
            rest = {k: v for k, v in work.items() if k != "cutter"}
            steps.append({"id": str(10 * (j + 1)), **rest, "tool": cutter["id"]})
        numbered.append({"id": f"S{i + 1}", **one, "workingsteps": steps})
    return {
        "plan_version": 1,
        "units": units,
        "workpiece": {"rawpiece": rawpiece},
        "tools": tools,
        "setups": numbered,
    }


def raw_box(low: Sequence[float], high: Sequence[float]) -> Json:
    """A box-shaped blank."""
    return {"box": {"min": list(low), "max": list(high)}}


def inputs(part: Shape | bytes, document: Json, files: Mapping[str, bytes] | None = None) -> Inputs:
    """What the product reads of part and plan."""
    data = part if isinstance(part, bytes) else step_bytes(part)
    return read_inputs(data, json.dumps(document).encode(), files or {})


def stages_of(part: Shape | bytes, document: Json, files: Mapping[str, bytes] | None = None) -> tuple[Stage, ...]:
    """Every setup of the plan, cut by the product."""
    found = inputs(part, document, files)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    return cut_all(found, resolved, lambda _: None)


def to_be(stage: Stage) -> float:
    """Volume that a stage leaves, measured by the test's own integral (mm3)."""
    return shapes.volume(stage.to_be.wrapped)


def taken(stage: Stage) -> float:
    """Volume that a stage took off, from the two stocks (mm3)."""
    return shapes.volume(stage.as_is.wrapped) - to_be(stage)


def removals(stage: Stage) -> list[float]:
    """Volume of each step's removal (mm3)."""
    return [cut_volume(c) for c in stage.cuts]


def cut_volume(cut: Cut) -> float:
    """Volume of one removal, measured by the test's own integral (mm3)."""
    return shapes.volume(cut.removal.wrapped)
