"""The example plans, read once and checked once in a test run."""

from __future__ import annotations

import json
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from OCP.STEPControl import STEPControl_Reader

from examples import make_parts
from examples.shapes import Shape, solids
from tests.support.kept import kept
from worker.pipeline import Checked, check_plan

FOLDER = Path(make_parts.HERE)


def names() -> list[str]:
    """The examples, in order."""
    return sorted(p.parent.name for p in FOLDER.glob("*/plan.json"))


def document(name: str) -> dict[str, Any]:
    """A fresh copy of an example's plan."""
    loaded: dict[str, Any] = json.loads((FOLDER / name / "plan.json").read_text())
    return loaded


def part_bytes(name: str) -> bytes:
    """An example's part."""
    return (FOLDER / name / "part.step").read_bytes()


def files(name: str) -> dict[str, bytes]:
    """The STEP files that an example's plan names."""
    return {p.stem: p.read_bytes() for p in sorted((FOLDER / name).glob("*.step")) if p.stem != "part"}


def check(name: str, plan: dict[str, Any]) -> Checked:
    """An example's part checked with another plan, with what the run's other tests found out."""
    return check_plan(part_bytes(name), json.dumps(plan).encode(), files(name), None, kept())


@cache
def checked(name: str) -> Checked:
    """An example as it stands, checked."""
    return check(name, document(name))


def read_solid(data: bytes) -> Shape:
    """The solid of a STEP file in mm, read with the kernel's plain reader."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "read.step"
        path.write_bytes(data)
        reader = STEPControl_Reader()
        reader.ReadFile(str(path))
        reader.TransferRoots()
        return solids(reader.OneShape())[0]


def stage_solid(name: str, setup: str) -> Shape:
    """The solid that the product wrote for a setup, in mm."""
    return read_solid(checked(name).stages[setup])
