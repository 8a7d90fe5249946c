"""Names that a STEP file gives to its faces (ISO 10303-42 advanced_face), for the few that mean something here."""

from __future__ import annotations

import re

from OCP.STEPControl import STEPControl_Reader
from OCP.StepShape import StepShape_Face
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS_Shape

from worker.kernel.shape import sub_shapes

_WORTH_A_LOOK = re.compile(rb"(?:ADVANCED_FACE|FACE_SURFACE)\s*\(\s*'[^']*(?:M\d|\d\s*-\s*\d)[^']*'")
"""A name with M and a digit, or digits round a dash: other files' faces are not asked one by one."""


def face_names(reader: STEPControl_Reader, shape: TopoDS_Shape, data: bytes) -> dict[int, str]:
    """What the file calls the faces of a shape made of it, by index in kernel order; only names that may be threads."""
    if not _WORTH_A_LOOK.search(data):
        return {}
    made = reader.WS().TransferReader()
    found: dict[int, str] = {}
    for index, face in enumerate(sub_shapes(shape, TopAbs_ShapeEnum.TopAbs_FACE)):
        entity = made.EntityFromShapeResult(face, 1)
        name = entity.Name().ToCString().strip() if isinstance(entity, StepShape_Face) and entity.Name() else ""
        if any(c.isdigit() for c in name):
            found[index] = name
    return found
