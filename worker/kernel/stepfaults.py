"""The words of each refusal of a STEP file: what is wrong, and what to do about it."""

from __future__ import annotations

from typing import Literal

from schemas.problem import Problem

_AGAIN = "Export the part again, as one solid in AP214 or AP242."


def too_large(name: str, detail: str) -> Problem:
    """A file or an assembly beyond the limits."""
    remedy = "Export the one part alone, without drawings, meshes or assemblies."
    return Problem("part.too-large", "The STEP file is too large", detail, pointer=name, remedy=remedy, status=413)


def not_step(name: str, detail: str) -> Problem:
    """Bytes that are no complete STEP file of a known application protocol."""
    remedy = "Export the part as STEP AP203, AP214 or AP242 (ISO 10303-21 text)."
    return Problem("part.not-step", "Not a STEP file", detail, pointer=name, remedy=remedy)


def no_solid(name: str) -> Problem:
    """A file of wires, drawings or meshes."""
    detail = "The file holds no solid: neither a boundary representation nor a shell."
    remedy = "Export the part as a solid body (manifold solid B-rep), not as drawing, mesh or wires."
    return Problem("part.no-solid", "No solid in the STEP file", detail, pointer=name, remedy=remedy)


def several_solids(name: str, detail: str) -> Problem:
    """More than one solid where one is needed."""
    remedy = "Export the one part alone, or join its bodies."
    return Problem("part.several-solids", "Several solids in the STEP file", detail, pointer=name, remedy=remedy)


def open_shell(name: str, gap: float) -> Problem:
    """Faces that do not close within ``gap`` mm."""
    detail = f"The body's shell is open: its faces do not close within {gap:g} mm."
    remedy = "Close the body in the modeller (missing or unjoined faces) and export it as a solid."
    return Problem("part.open-shell", "The part is not closed", detail, pointer=name, remedy=remedy)


def no_unit(name: str, detail: str, kind: Literal["length", "angle"] = "length") -> Problem:
    """No length or angle unit, or two at once."""
    units = "millimetre or inch" if kind == "length" else "radian or degree"
    remedy = f"Export the part again with the unit ({units}) in the file."
    return Problem("part.no-unit", f"No {kind} unit in the STEP file", detail, pointer=name, remedy=remedy)


def unit_suspect(name: str, detail: str) -> Problem:
    """A size that speaks for a wrong unit."""
    remedy = "Export the part again with the right length unit, or correct the plan's 'units'."
    return Problem("part.unit-suspect", "The unit of the part is doubtful", detail, pointer=name, remedy=remedy)


def contradiction(name: str, detail: str) -> Problem:
    """A file whose instances contradict themselves."""
    title = "The STEP file contradicts itself"
    return Problem("part.invalid", title, detail, pointer=name, remedy="Export the part again; the file is damaged.")


def unreadable(name: str, detail: str) -> Problem:
    """A file that the reader refuses."""
    return Problem("part.invalid", "The STEP file cannot be read", detail, pointer=name, remedy=_AGAIN)


def invalid(name: str, fault: str) -> Problem:
    """A body that healing does not mend."""
    remedy = "Repair the body in the modeller and export it again."
    detail = f"Also after healing, {fault}."
    return Problem("part.invalid", "The part is not a valid solid", detail, pointer=name, remedy=remedy)
