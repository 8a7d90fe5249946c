"""What computed a report: our version, the kernel's, the rule set's."""

from __future__ import annotations

from importlib.metadata import version


def versions() -> dict[str, str]:
    """Name to version; the same on every machine that has the same packages."""
    return {"reclamp": version("reclamp"), "kernel": f"OCCT via cadquery-ocp-novtk {version('cadquery-ocp-novtk')}"}
