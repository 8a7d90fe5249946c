"""STEP in and out: untrusted bytes to sound solids in mm, and solids to the same bytes on every run."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Literal

from OCP.BRep import BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_Sewing
from OCP.BRepLib import BRepLib
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.Message import Message, Message_PrinterOStream
from OCP.Resource import Resource_DataMapOfAsciiStringAsciiString
from OCP.ShapeFix import ShapeFix_Shape, ShapeFix_Solid
from OCP.ShapeUpgrade import ShapeUpgrade_RemoveLocations
from OCP.STEPControl import STEPControl_Reader, STEPControl_StepModelType, STEPControl_Writer
from OCP.TCollection import TCollection_AsciiString
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS, TopoDS_Shape

from schemas.problem import Problem
from schemas.tolerances import EDGE_GAP, SEWING
from worker.kernel import stepfaults
from worker.kernel.elementary import elementary
from worker.kernel.errors import KernelError, kernel_step
from worker.kernel.measure import bounding_box
from worker.kernel.merge import unwound, wound_faces
from worker.kernel.reseated import reseated
from worker.kernel.shape import Body, compound, compound_of, edges, faces, shells, solids, sub_shapes
from worker.kernel.stepnames import face_names
from worker.kernel.steptext import INCH, MAX_BYTES, Surveyed, survey
from worker.kernel.validity import faults, signed_volume

SMALLEST, LARGEST = 0.5, 20_000.0
"""Diagonals (mm) outside this range are taken for a wrong unit: no such part is cut on a machining centre."""

MANY_EDGES = 500
"""A face with so many edges is mended only where it needs it: from 0.1 s on, with the square of their number."""
_CROSSING_EDGES = "FixShape.FixNonAdjacentIntersectingEdgesMode"
_READ_SETTINGS = {
    "xstep.cascade.unit": "MM",
    "read.precision.mode": "File",
    "read.maxprecision.mode": "Preferred",
    "read.stdsameparameter.mode": "Off",
    "read.surfacecurve.mode": "Default",
    "read.step.product.mode": "ON",
    "read.step.assembly.level": "all",
    "read.step.shape.repr": "All",
    "read.step.nonmanifold": "Off",
    "read.step.tessellated": "Off",
    "step.angleunit.mode": "File",
}
_WRITE_SETTINGS = {
    "xstep.cascade.unit": "MM",
    "write.step.schema": "AP214IS",
    "write.step.assembly": "Off",
    "write.precision.mode": "Average",
    "write.surfacecurve.mode": "On",
    "write.step.nonmanifold": "Off",
    "write.step.vertex.mode": "Compound",
}


@dataclass(frozen=True, slots=True)
class StepFile:
    """The solids of a STEP file in mm, its own length unit and schema, and remarks on what was mended or dropped.

    ``names``: index of a face in kernel order and what the file calls it, for names that may state a thread.
    """

    body: Body
    unit: str
    unit_mm: float
    schema: str
    notes: tuple[str, ...]
    names: tuple[tuple[int, str], ...] = ()


def read_part(data: bytes, name: str = "part", limit: int = MAX_BYTES) -> StepFile:
    """The one solid of an untrusted STEP file; every other content raises a Problem that names the file."""
    found = read_bodies(data, name, limit)
    count = len(solids(found.body))
    if count != 1:
        raise stepfaults.several_solids(name, f"The file holds {count} solids; a part is exactly one.")
    return found


def read_bodies(data: bytes, name: str = "part", limit: int = MAX_BYTES) -> StepFile:
    """All solids of an untrusted STEP file (stock, fixtures), one or more, healed where need be."""
    surveyed = survey(data, name, limit)
    try:
        return _read(data, name, surveyed, mended=surveyed.most_edges < MANY_EDGES)
    except _ToBeMendedError:
        return _read(data, name, surveyed, mended=True)


def _read(data: bytes, name: str, surveyed: Surveyed, *, mended: bool) -> StepFile:
    shape, names = _transfer(data, name, mended=mended)
    notes = list(surveyed.notes)
    found = [Body(s) for s in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_SOLID)]
    if not found:
        found = _solids_of_shells(shape, name, notes)
    _note_loose(shape, notes)
    sound = [_sound(_baked(body), name, notes, mended) for body in found]
    bodies = [reseated(_attempt(elementary, body) or body) for body in sound]
    body = compound(bodies)
    _refuse_wide_gaps(body, name)
    _refuse_absurd_size(body, surveyed, name)
    if len(faces(body)) != len(sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_FACE)):
        names = {}  # faces were divided, sewn or left out: their numbers are others now
    told = tuple(sorted(names.items()))
    return StepFile(body, surveyed.unit, surveyed.unit_mm, surveyed.schema, tuple(dict.fromkeys(notes)), told)


def suspect_unit(file: StepFile, raw_size: tuple[float, float, float], name: str = "part") -> Problem | None:
    """The Problem of a part that suits its raw piece (edge lengths in mm) only 25.4 times larger or smaller."""
    size, room = sorted(bounding_box(file.body).size), sorted(raw_size)
    if _suits(size, room, 1.0):
        return None
    for factor, words in ((INCH, "25.4 times larger"), (1.0 / INCH, "25.4 times smaller")):
        if _suits(size, room, factor):
            sizes = f"The part's box is {_edges(size)} mm, its raw piece {_edges(room)} mm"
            return stepfaults.unit_suspect(name, f"{sizes}: they suit each other only if the part is {words}.")
    return None


def _suits(size: list[float], room: list[float], factor: float) -> bool:
    """The scaled part fits its raw piece and fills at least a quarter of it along each edge."""
    return all(factor * s <= 1.0001 * r and r <= 4.0 * factor * s for s, r in zip(size, room, strict=True))


def _edges(size: list[float]) -> str:
    return " x ".join(f"{s:.4g}" for s in size)


@cache
def _silenced() -> None:
    """The kernel prints statistics to standard output; a report may be going there."""
    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())


def _apply(settings: dict[str, str]) -> None:
    """The reader's and writer's parameters are process-wide: state every one that matters, each time."""
    for key, value in settings.items():
        if not Interface_Static.SetCVal_s(key, value):
            raise KernelError("step", f"the kernel refuses {key} = {value}")


def _transfer(data: bytes, name: str, *, mended: bool) -> tuple[TopoDS_Shape, dict[int, str]]:
    """The file's shape, and what it calls its faces; ``mended``: also where edges of a face cross far from their ends.

    That compares all edges of a face with one another.
    """
    _silenced()
    reader = STEPControl_Reader()
    _apply(_READ_SETTINGS)
    try:
        with kernel_step("read step"):
            status = reader.ReadStream(name, io.BytesIO(data))
            if not mended:
                _leave_crossing_edges(reader)
            # transferring after a failed read crashes
            made = status == IFSelect_ReturnStatus.IFSelect_RetDone and reader.TransferRoots() > 0
    except KernelError as error:
        raise stepfaults.unreadable(name, f"The kernel gave up on the file ({error.detail}).") from None
    if status != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise stepfaults.unreadable(name, "The file breaks the syntax of ISO 10303-21.")
    if not made or reader.NbShapes() < 1:
        raise stepfaults.unreadable(name, "No shape could be made of the file's content.")
    shape = reader.OneShape()
    return shape, face_names(reader, shape, data)


def _leave_crossing_edges(reader: STEPControl_Reader) -> None:
    """To be said after a file was read: reading forgets it."""
    settings = Resource_DataMapOfAsciiStringAsciiString()
    settings.Bind(TCollection_AsciiString(_CROSSING_EDGES), TCollection_AsciiString("0"))
    reader.SetShapeFixParameters(settings)


def _baked(body: Body) -> Body:
    """The body without any location: an assembly's placements go into the geometry."""
    remover = ShapeUpgrade_RemoveLocations()
    if not remover.Remove(body.wrapped):
        return body
    return Body(remover.GetResult())


def _note_loose(shape: TopoDS_Shape, notes: list[str]) -> None:
    """Wires, points and faces beside the solids are not metal; left in, they make cuts return nothing."""
    owned = {
        kind: len(sub_shapes(compound_of(sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_SOLID)), kind)) for kind in _LOOSE
    }
    dropped = [f"{len(sub_shapes(shape, kind)) - owned[kind]} {word}" for kind, word in _LOOSE.items()
               if len(sub_shapes(shape, kind)) > owned[kind] > 0]  # fmt: skip
    if dropped:
        notes.append(f"geometry beside the solids was left out: {', '.join(dropped)}")


_LOOSE = {TopAbs_ShapeEnum.TopAbs_FACE: "faces", TopAbs_ShapeEnum.TopAbs_EDGE: "edges"}


def _solids_of_shells(shape: TopoDS_Shape, name: str, notes: list[str]) -> list[Body]:
    """Solids made of the file's shells where these close, if need be after sewing."""
    if not sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_FACE):
        raise stepfaults.unreadable(name, "The file names a body, but none could be made of its content.")
    closed = _closed_by_sewing(shape)
    if not closed:
        raise stepfaults.open_shell(name, SEWING)
    notes.append("the file held surfaces only; they close and were taken as a solid")
    return closed


def _closed_by_sewing(shape: TopoDS_Shape) -> list[Body]:
    sewing = BRepBuilderAPI_Sewing(SEWING)
    for face in sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_FACE):
        sewing.Add(face)
    sewing.Perform()
    if sewing.NbFreeEdges() > 0:
        return []
    made = [Body(ShapeFix_Solid().SolidFromShell(shell)) for shell in shells(sewing.SewedShape())]
    return [_turned_out(body) for body in made]


def _turned_out(body: Body) -> Body:
    """The solid with its normals out of the metal."""
    solid = TopoDS.Solid_s(body.wrapped)
    BRepLib.OrientClosedSolid_s(solid)
    return Body(solid)


class _ToBeMendedError(Exception):
    """A body that was read as it stands in the file is not sound."""


def _sound(body: Body, name: str, notes: list[str], mended: bool) -> Body:
    """The body if it is sound, else the first healing that makes it so, else the Problem."""
    found = faults(body)
    if found and not mended:
        raise _ToBeMendedError
    if any("inside out" in fault for fault in found):
        body = _turned_out(body)
        found = faults(body)
        notes.append("the body was inside out and was turned")
    if not found:
        return _divided(body, name, notes)
    for words, heal in _HEALINGS:
        healed = _attempt(heal, body)
        if healed is not None and not faults(healed):
            notes.append(f"the body was mended ({found[0]}): {words}")
            return _divided(healed, name, notes)
    raise _refusal(found, name)


def _refuse_wide_gaps(body: Body, name: str) -> None:
    """The reader widens an edge's tolerance to whatever lies between it and its faces, and calls the body valid."""
    widest = max((BRep_Tool.Tolerance_s(edge) for edge in edges(body.wrapped)), default=0.0)
    if widest > EDGE_GAP:
        raise stepfaults.invalid(name, f"an edge lies {widest:.3g} mm beside its faces")


def _refusal(found: tuple[str, ...], name: str) -> Problem:
    """The Problem for faults that healing did not mend, the most telling first."""
    if any("shell is open" in fault for fault in found):
        return stepfaults.open_shell(name, SEWING)
    several = next((fault for fault in found if "outer shells" in fault), None)
    if several is not None:
        return stepfaults.several_solids(name, f"The body is no single piece: {several}.")
    return stepfaults.invalid(name, found[0])


def _divided(body: Body, name: str, notes: list[str]) -> Body:
    """Faces that wind more than once round their surface, which booleans lose metal at, are cut into halves."""
    if wound_faces(body):
        notes.append("faces that wind more than once round their surface were divided")
    try:
        return unwound(body)
    except KernelError as error:
        raise stepfaults.invalid(name, error.detail) from None


def _attempt(heal: Callable[[Body], Body | None], body: Body) -> Body | None:
    try:
        return heal(body)
    except Exception:  # the kernel throws its own exception types from anywhere inside a repair
        return None


def _fixed(body: Body) -> Body | None:
    fix = ShapeFix_Shape(body.wrapped)
    fix.SetMaxTolerance(SEWING)
    fix.Perform()
    fixed = solids(Body(fix.Shape()))
    return fixed[0] if len(fixed) == 1 else None


def _sewn(body: Body) -> Body | None:
    closed = _closed_by_sewing(body.wrapped)
    return closed[0] if len(closed) == 1 and signed_volume(closed[0].wrapped) > 0.0 else None


_HEALINGS: tuple[tuple[str, Callable[[Body], Body | None]], ...] = (
    ("edges and faces fixed", _fixed),
    ("faces sewn together", _sewn),
)


def _refuse_absurd_size(body: Body, surveyed: Surveyed, name: str) -> None:
    diagonal = bounding_box(body).diagonal
    if not SMALLEST <= diagonal <= LARGEST:
        size = f"The part's diagonal is {diagonal:.4g} mm (the file's unit: {surveyed.unit})"
        raise stepfaults.unit_suspect(name, f"{size}, outside {SMALLEST:g} to {LARGEST:g} mm.")


_HEADER = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('{name}','1970-01-01T00:00:00',(''),(''),'reclamp','reclamp','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));
ENDSEC;
"""
_BARE_MEASURE = re.compile(r"(= LENGTH_MEASURE_WITH_UNIT\()([0-9.E+-]+),")
_PRODUCT = re.compile(r"(= PRODUCT\()'(?:[^']|'')*',\s*'(?:[^']|'')*'")


def write_step(body: Body, units: Literal["mm", "inch"] = "mm", name: str = "stage") -> bytes:
    """The solids as an AP214 file in ``units``: the same body gives the same bytes in every process.

    ``body`` is in mm; coordinates carry 12 significant digits. Raises KernelError for a body that cannot be written.
    """
    _silenced()
    writer = STEPControl_Writer()
    _apply({**_WRITE_SETTINGS, "write.step.unit": "INCH" if units == "inch" else "MM"})
    shape = body.wrapped if len(solids(body)) == 1 else compound_of(s.wrapped for s in solids(body))
    status = writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs, True)
    stream = io.BytesIO()
    if status != IFSelect_ReturnStatus.IFSelect_RetDone or writer.WriteStream(stream) != status:
        raise KernelError("write step", f"the kernel could not write {name}")
    return _with_fixed_header(stream.getvalue().decode("ascii"), name).encode("ascii")


def _with_fixed_header(text: str, name: str) -> str:
    """Our own header and product name: the kernel's carry the time of day and a process-wide counter."""
    quoted = "".join(c if c.isascii() and c.isprintable() and c not in "'\\" else "_" for c in name)
    data = text[text.index("DATA;") :]
    data = _PRODUCT.sub(lambda m: f"{m.group(1)}'{quoted}','{quoted}'", data, count=1)
    data = _BARE_MEASURE.sub(r"\1LENGTH_MEASURE(\2),", data)  # ISO 10303-41 wants the measure typed
    return _HEADER.format(name=quoted) + data
