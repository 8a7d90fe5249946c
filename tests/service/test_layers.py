"""Who loads what, seen in processes of their own; the import rules say the same of the source."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def loaded(*modules: str) -> set[str]:
    """Top-level packages, and rooms of ours, that a fresh process has loaded after importing these modules."""
    told = f"import sys, json, {', '.join(modules)}; print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", told], cwd=ROOT, capture_output=True, text=True, timeout=120, check=True
    )
    return {name for module in json.loads(done.stdout) for name in (module.split(".")[0], module)}


def test_the_api_process_loads_neither_worker_nor_kernel() -> None:
    assert loaded("service.api", "service.app") & {"worker", "OCP", "numpy", "trimesh", "manifold3d"} == set()


def test_the_worker_process_loads_no_kernel_of_its_own() -> None:
    """Only its children do: a fork of a process that has used the kernel is not to be trusted."""
    found = loaded("service.work.tasks", "service.work.compute", "service.work.consume")
    assert "worker.job" in found
    assert found & {"OCP", "worker.kernel", "worker.pipeline"} == set()


@pytest.mark.parametrize("module", ["worker.entry", "worker.extras", "worker.job", "worker.warm"])
def test_the_worker_s_rooms_load_nothing_of_the_service(module: str) -> None:
    assert loaded(module) & {"service", "fastapi", "celery", "sqlalchemy"} == set()


def test_a_kernel_child_gets_nothing_of_the_service_with_its_parent_s_main_module() -> None:
    # multiprocessing imports the parent's main module again in each child of a fork server
    ours = {name for name in loaded("service.work.main") if name.startswith("service")}
    assert ours == {"service", "service.work", "service.work.main"}
