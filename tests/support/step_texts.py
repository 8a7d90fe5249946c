"""STEP files for tests, sound and unsound: written by the kernel's own writer, then spoilt by editing the text."""

import io
import re

from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_StepModelType, STEPControl_Writer

from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.stepio import write_step

BLOCK_VOLUME = 60 * 40 * 20 - 3.141592653589793 * 25 * 20


def block():
    """60 x 40 x 20 with a through hole of 10."""
    return cut(box((0, 0, 0), (60, 40, 20)), [cylinder((20, 20, -1), (20, 20, 21), 10)])


def block_text(units="mm"):
    return write_step(block(), units).decode()


def raw_step(shape, assembly="Auto", unit="MM"):
    """Any shape as the bare kernel writes it."""
    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.assembly", assembly)
    Interface_Static.SetCVal_s("write.step.unit", unit)
    assert (
        writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs, True)
        == IFSelect_ReturnStatus.IFSelect_RetDone
    )
    stream = io.BytesIO()
    writer.WriteStream(stream)
    return stream.getvalue()


def with_schema(text, schema):
    return re.sub(r"FILE_SCHEMA\(\('[^']*'\)\)", f"FILE_SCHEMA(('{schema}'))", text)


def without_unit(text):
    """The context keeps its angle units but names no length unit."""
    return re.sub(r"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\(#\d+,", "GLOBAL_UNIT_ASSIGNED_CONTEXT((", text)


def with_second_unit(text):
    extra = "#90001 = ( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT($,.METRE.) );\n"
    text = re.sub(r"GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\(", "GLOBAL_UNIT_ASSIGNED_CONTEXT((#90001,", text)
    return text.replace("ENDSEC;\nEND-ISO", extra + "ENDSEC;\nEND-ISO")


def with_self_reference(text):
    """The first oriented edge takes itself for its edge."""
    return re.sub(r"#(\d+) = ORIENTED_EDGE\('',\*,\*,#\d+,", r"#\1 = ORIENTED_EDGE('',*,*,#\1,", text, count=1)


def with_ring(text):
    """Two oriented edges take each other for their edge."""
    first, second = re.findall(r"#(\d+) = ORIENTED_EDGE", text)[:2]
    for here, there in ((first, second), (second, first)):
        text = re.sub(rf"#{here} = ORIENTED_EDGE\('',\*,\*,#\d+,", f"#{here} = ORIENTED_EDGE('',*,*,#{there},", text)
    return text


def without_face(text):
    """One face is missing from the shell."""
    return re.sub(r"CLOSED_SHELL\('',\(#\d+,", "CLOSED_SHELL('',(", text)


def self_containing_assembly(text):
    product = re.search(r"#(\d+) = PRODUCT_DEFINITION\(", text).group(1)
    usage = f"#90002 = NEXT_ASSEMBLY_USAGE_OCCURRENCE('1','','',#{product},#{product},$);\n"
    return text.replace("ENDSEC;\nEND-ISO", usage + "ENDSEC;\nEND-ISO")


def unfolding_assembly(text, levels=12, width=10):
    """A few kilobytes that stand for width ** levels components."""
    lines = []
    for level in range(levels):
        parent, child = 91000 + level, 91001 + level
        for k in range(width):
            number = 92000 + level * width + k
            lines.append(f"#{number} = NEXT_ASSEMBLY_USAGE_OCCURRENCE('{k}','','',#{parent},#{child},$);")
    return text.replace("ENDSEC;\nEND-ISO", "\n".join(lines) + "\nENDSEC;\nEND-ISO")
