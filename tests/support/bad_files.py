"""STEP files that no check can use, each with one fault, made from sound ones."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from pathlib import Path

from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeSolid, BRepBuilderAPI_Sewing
from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS, TopoDS_Compound, TopoDS_Shape, TopoDS_Solid
from OCP.TopTools import TopTools_IndexedMapOfShape

from examples.shapes import box, cylinder, polygon, prism
from tests.support.trial import step_bytes


def written(shape: TopoDS_Shape) -> bytes:
    """Whatever shape it is, as the kernel's writer puts it down."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "odd.step"
        writer = STEPControl_Writer()
        writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs)
        writer.Write(str(path))
        return path.read_bytes()


def _faces(shape: TopoDS_Shape) -> list[TopoDS_Shape]:
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_FACE, found)
    return [found.FindKey(i) for i in range(1, found.Extent() + 1)]


def _sewn(faces: list[TopoDS_Shape]) -> TopoDS_Shape:
    sewing = BRepBuilderAPI_Sewing()
    for face in faces:
        sewing.Add(face)
    sewing.Perform()
    return sewing.SewedShape()


def good() -> bytes:
    """A sound block of 100 x 60 x 40 mm with a hole."""
    return step_bytes(box((0, 0, 0), (100, 60, 40)))


def no_solid() -> bytes:
    """A wire."""
    found = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(box((0, 0, 0), (1, 1, 1)), TopAbs_ShapeEnum.TopAbs_WIRE, found)
    return written(found.FindKey(1))


def several_solids() -> bytes:
    """Two blocks that do not touch."""
    both = TopoDS_Compound()
    builder = BRep_Builder()
    builder.MakeCompound(both)
    builder.Add(both, box((0, 0, 0), (10, 10, 10)))
    builder.Add(both, box((20, 0, 0), (30, 10, 10)))
    return written(both)


def open_shell() -> bytes:
    """A block without its lid."""
    return written(_sewn(_faces(box((0, 0, 0), (100, 60, 40)))[:5]))


def open_solid() -> bytes:
    """A solid whose only shell lacks a face."""
    shell = TopoDS.Shell_s(_sewn(_faces(box((0, 0, 0), (100, 60, 40)))[:5]))
    solid: TopoDS_Solid = BRepBuilderAPI_MakeSolid(shell).Solid()
    return written(solid)


def crossing_itself() -> bytes:
    """A prism over a bow tie: its walls cross."""
    return written(prism(polygon([(0, 0, 0), (100, 60, 0), (100, 0, 0), (0, 60, 0)]), (0, 0, 40)))


def no_unit() -> bytes:
    """The length unit is gone from the context."""
    text = good().decode()
    changed, times = re.subn(r"(GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\()#\d+,", r"\1", text)
    assert times == 1
    return changed.encode()


def wrong_unit() -> bytes:
    """Millimetres that the header calls inches."""
    return step_bytes(box((0, 0, 0), (100 * 25.4, 60 * 25.4, 40 * 25.4)), "INCH")


def edges_of_themselves() -> bytes:
    """Every oriented edge refers to itself: the kernel's reader follows it for ever."""
    text = good().decode()
    return re.sub(r"(#\d+) = ORIENTED_EDGE\('',\*,\*,#\d+,", r"\1 = ORIENTED_EDGE('',*,*,\1,", text).encode()


def missing_references() -> bytes:
    """Half of the instances are gone."""
    lines = good().decode().split(";\n")
    return ";\n".join([*lines[:10], *lines[10:-3:2], *lines[-3:]]).encode()


def deep_nesting() -> bytes:
    """One instance of a million nested lists."""
    return good().replace(b"DATA;\n", b"DATA;\n#900000 = CARTESIAN_POINT(''," + b"(" * 1_000_000 + b");\n", 1)


def many_copies() -> bytes:
    """An array of a hundred thousand points and no end of it: cut off in the middle."""
    lines = "".join(f"#{900000 + i} = CARTESIAN_POINT('',(0.,0.,{i}.));\n" for i in range(100_000))
    return good().replace(b"DATA;\n", b"DATA;\n" + lines.encode(), 1)[:-2000]


def round_bar() -> bytes:
    """A sound part that is no block: for plans that name what it has not."""
    return step_bytes(cylinder((0, 0, 0), (0, 0, 40), 30))


BAD: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "STEP"),
    "text": (lambda: b"this is a drawing of a valve\n" * 50, "STEP"),
    "picture": (lambda: b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20, "STEP"),
    "stl": (lambda: b"solid a\nfacet normal 0 0 1\nouter loop\nendloop\nendfacet\nendsolid a\n", "STEP"),
    "header only": (lambda: b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n", ""),
    "cut off": (lambda: good()[: len(good()) // 2], ""),
    "no solid": (no_solid, "no solid"),
    "several solids": (several_solids, "solids"),
    "open shell": (open_shell, "open"),
    "open solid": (open_solid, "open"),
    "no unit": (no_unit, "unit"),
    "wrong unit": (wrong_unit, "unit"),
    "crossing itself": (crossing_itself, ""),
    "kernel killer": (edges_of_themselves, ""),
    "missing references": (missing_references, ""),
    "deep nesting": (deep_nesting, ""),
    "many copies": (many_copies, ""),
}
"""Name of the fault, the file, a word that the sentence must hold."""
