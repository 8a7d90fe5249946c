"""STEP in and out: what is read rightly, and that what is written is the same every time."""

import re
import subprocess
import sys

import numpy as np
import pytest
from OCP.gp import gp_Trsf, gp_Vec
from OCP.TopLoc import TopLoc_Location

from bench.growth_shapes import prism_within
from schemas.base import Frame
from tests.support.step_texts import BLOCK_VOLUME, block, block_text, raw_step, with_schema
from worker.kernel.boolean import cut
from worker.kernel.measure import bounding_box, contains, volume
from worker.kernel.mesh import from_bytes, to_bytes, triangulate
from worker.kernel.primitives import box, cone, cylinder, sphere
from worker.kernel.shape import WORLD, Body, compound, compound_of, edges, faces, move_body, solids
from worker.kernel.stepio import read_bodies, read_part, suspect_unit, write_step
from worker.kernel.validity import faults

SHAPES = {
    "planes": box((0, 0, 0), (60, 40, 20)),
    "cylinders": block(),
    "cone and ball": cut(
        box((-20, -20, -20), (20, 20, 20)), [cone((0, 0, 0), (0, 0, 21), 2, 18), sphere((20, 20, 20), 15)]
    ),
    "crossing holes": cut(
        box((-15, -15, -15), (15, 15, 15)),
        [cylinder((0, 0, -20), (0, 0, 20), 10), cylinder((-20, 0, 0), (20, 0, 0), 6)],
    ),
    "turned": move_body(block(), WORLD, Frame(location=(13.7, -5.2, 8.8), axis=(1, 2, 3), ref_direction=(1, 0, 0))),
    "two solids": compound([block(), box((100, 0, 0), (110, 10, 10))]),
}


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("name", SHAPES)
def test_round_trip_keeps_volume_and_faces(name, units):
    body = SHAPES[name]
    file = read_bodies(write_step(body, units))
    assert (file.unit, file.notes) == (units, ())
    assert volume(file.body) == pytest.approx(volume(body), rel=1e-9)
    assert len(faces(file.body)) == len(faces(body))
    assert bounding_box(file.body).max == pytest.approx(bounding_box(body).max, abs=1e-6)


def test_an_inch_file_has_its_coordinates_in_inches():
    """1 in = 25.4 mm (ISO 31): the block's 60 mm edge is 2.3622 in."""
    text = block_text("inch")
    numbers = [float(x) for x in re.findall(r"CARTESIAN_POINT\('',\(([-0-9.E]+),[-0-9.E]+,", text)]
    assert max(numbers) == pytest.approx(60 / 25.4, rel=1e-11)
    assert "CONVERSION_BASED_UNIT('INCH'" in text and "LENGTH_MEASURE(25.4)" in text


@pytest.mark.parametrize("body", SHAPES.values(), ids=SHAPES.keys())
def test_the_same_body_gives_the_same_bytes(body):
    first = write_step(body, "mm", "stage S1")
    read_bodies(first)
    write_step(SHAPES["planes"], "inch")
    assert write_step(body, "mm", "stage S1") == first


def test_header_carries_neither_time_nor_kernel_nor_counter():
    text = block_text()
    assert "1970-01-01T00:00:00" in text and "Open CASCADE" not in text
    assert re.search(r"PRODUCT\('stage','stage',", text)


WRITE = """
import sys
from tests.support.step_texts import block
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.stepio import write_step
for k in range(int(sys.argv[1])):
    write_step(box((0, 0, 0), (1 + k, 1, 1)), "inch", "other")
tools = [cylinder((x, 20, -1), (x, 20, 12), 6) for x in (10, 35, 50)] + [cylinder((-1, 20, 6), (61, 20, 6), 4)]
sys.stdout.buffer.write(write_step(cut(block(), tools), "mm", "stage S1"))
"""


def test_bytes_are_equal_in_other_processes_and_after_other_work():
    runs = [subprocess.run([sys.executable, "-c", WRITE, n], capture_output=True, check=True).stdout for n in "025"]
    assert runs[0].startswith(b"ISO-10303-21;") and len(set(runs)) == 1


@pytest.mark.parametrize(
    "schema",
    [
        "CONFIG_CONTROL_DESIGN",
        "AUTOMOTIVE_DESIGN { 1 0 10303 214 3 1 1 }",
        "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }",
    ],
)
def test_application_protocols(schema):
    file = read_part(with_schema(block_text(), schema).encode())
    assert volume(file.body) == pytest.approx(BLOCK_VOLUME, rel=1e-9)
    assert file.schema == schema


def test_metre_and_centimetre_files():
    text = block_text()
    metre = text.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT($,.METRE.)")
    centi = text.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT(.CENTI.,.METRE.)")
    assert read_part(centi.encode()).unit == "cm"
    assert volume(read_part(centi.encode()).body) == pytest.approx(1e3 * BLOCK_VOLUME, rel=1e-9)
    with pytest.raises(Exception, match="diagonal"):
        read_part(metre.encode())  # 60 m long


def located(shape, x, y, z):
    motion = gp_Trsf()
    motion.SetTranslation(gp_Vec(x, y, z))
    return shape.Moved(TopLoc_Location(motion))


def test_an_assembly_with_one_solid_is_that_solid_where_it_stands():
    inner = compound_of([located(block().wrapped, 100, 0, 0)])
    data = raw_step(compound_of([located(inner, 0, 200, 0)]), assembly="On")
    assert b"NEXT_ASSEMBLY_USAGE_OCCURRENCE" in data
    file = read_part(data)
    assert bounding_box(file.body).min == pytest.approx((100, 200, 0), abs=1e-9)
    assert volume(file.body) == pytest.approx(BLOCK_VOLUME, rel=1e-9)
    assert all(face.Location().IsIdentity() for face in faces(file.body))
    assert contains(file.body, (105, 205, 5)) == "in"


def test_a_centimetre_part_in_a_millimetre_assembly_keeps_both_units():
    inner = compound_of([located(block().wrapped, 100, 0, 0)])
    text = raw_step(compound_of([located(inner, 0, 200, 0)]), assembly="On").decode()
    context = re.search(r"ADVANCED_BREP_SHAPE_REPRESENTATION\('[^']*',\([^)]*\),#(\d+)\)", text)[1]
    unit = re.search(rf"#{context} = .*?GLOBAL_UNIT_ASSIGNED_CONTEXT\s*\(\(#(\d+)", text, re.DOTALL)[1]
    text = re.sub(rf"(#{unit} = \( LENGTH_UNIT\(\) NAMED_UNIT\(\*\) SI_UNIT\()\.MILLI\.", r"\1.CENTI.", text)
    file = read_part(text.encode())
    assert (file.unit, file.unit_mm) == ("cm", 10.0)
    assert bounding_box(file.body).min == pytest.approx((100, 200, 0), abs=1e-9)
    assert volume(file.body) == pytest.approx(1e3 * BLOCK_VOLUME, rel=1e-9)


def test_wireframe_and_faces_beside_the_solid_are_left_out_and_said():
    """Left in, they make a cut return nothing."""
    loose = [edges(box((100, 0, 0), (110, 10, 10)).wrapped)[0], faces(box((200, 0, 0), (210, 10, 10)))[0]]
    file = read_part(raw_step(compound_of([block().wrapped, *loose])))
    assert any("left out" in note for note in file.notes)
    assert volume(cut(file.body, [box((-1, -1, 10), (61, 41, 21))])) == pytest.approx(BLOCK_VOLUME / 2, rel=1e-9)


def test_a_closed_surface_model_becomes_a_solid_and_is_said():
    from worker.kernel.shape import shells

    file = read_part(raw_step(shells(block().wrapped)[0]))
    assert volume(file.body) == pytest.approx(BLOCK_VOLUME, rel=1e-9)
    assert any("surfaces only" in note for note in file.notes)


def test_unjoined_faces_that_close_are_sewn():
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy

    loose = compound_of(BRepBuilderAPI_Copy(face).Shape() for face in faces(block()))
    assert volume(read_part(raw_step(loose)).body) == pytest.approx(BLOCK_VOLUME, rel=1e-6)


def test_an_inside_out_solid_is_turned():
    text = block_text()
    flipped = re.sub(r"(= ADVANCED_FACE\([^;]*?)\.([TF])\.\)", lambda m: f"{m[1]}.{'TF'[m[2] == 'T']}.)", text)
    assert flipped != text
    assert volume(read_part(flipped.encode()).body) == pytest.approx(BLOCK_VOLUME, rel=1e-9)


def test_reading_twice_gives_the_same_order_of_faces():
    data = block_text().encode()
    boxes = [[bounding_box_of(face) for face in faces(read_part(data).body)] for _ in range(2)]
    assert boxes[0] == boxes[1]


def bounding_box_of(face):
    from worker.kernel.measure import box_of

    found = box_of(face)
    return found.min, found.max


def part_of(size):
    return read_part(write_step(box((0, 0, 0), size)))


def test_a_unit_wrong_by_an_inch_shows_at_the_raw_piece():
    assert suspect_unit(part_of((100, 60, 30)), (104, 64, 34)) is None
    small = suspect_unit(part_of((4, 2.4, 1.2)), (104, 64, 34))
    assert small.type == "part.unit-suspect" and "25.4 times larger" in small.detail
    large = suspect_unit(part_of((100 * 25.4, 60 * 25.4, 30 * 25.4)), (104, 64, 34))
    assert "25.4 times smaller" in large.detail


def test_a_small_part_of_a_large_bar_and_a_part_too_large_are_no_unit_matter():
    assert suspect_unit(part_of((100, 60, 30)), (3000, 64, 34)) is None
    assert suspect_unit(part_of((100, 60, 36)), (104, 64, 34)) is None


def mesh_volume(points, triangles):
    """Volume enclosed by a closed mesh (mm³), by the divergence theorem."""
    a, b, c = (points[triangles[:, k]] - points.mean(axis=0) for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def test_mesh_of_a_body():
    body = SHAPES["crossing holes"]
    points, triangles, owner = triangulate(body, 0.005)
    assert points.dtype == "float64" and triangles.dtype == owner.dtype == "int32"
    assert mesh_volume(points, triangles) == pytest.approx(volume(body), rel=2e-3)
    assert set(owner.tolist()) == set(range(len(faces(body))))
    again = triangulate(body, 0.005)
    assert (points == again[0]).all() and (triangles == again[1]).all()


def test_mesh_of_planes_is_exact():
    """The divergence theorem over a triangulated box."""
    points, triangles, _ = triangulate(box((1, 2, 3), (4, 6, 8)))
    assert mesh_volume(points, triangles) == pytest.approx(60, rel=1e-12)


def test_kernel_bytes_carry_a_body_exactly():
    body = SHAPES["two solids"]
    again = from_bytes(to_bytes(body))
    assert volume(again) == volume(body) and len(solids(again)) == 2
    assert isinstance(again, Body) and to_bytes(again) == to_bytes(body)


@pytest.mark.parametrize("lowest", [2.0, -1.0])
def test_faces_with_hundreds_of_edges_are_mended_where_they_need_it(lowest):
    """Two flats within a comb's outline of 522 edges; in one a gap's corner lies beyond its back, so that edges cross.

    Area by the shoelace formula, 1 mm thick; healing afterwards would be said.
    """
    corners = [(0.0, 0.0), (260.0, 0.0)]
    for k in reversed(range(260)):
        corners += [(k + 0.9, lowest if k == 210 else 2.0), (k + 0.1, 3.0)]
    area = sum(a * d - b * c for (a, b), (c, d) in zip(corners, (*corners[1:], corners[0]), strict=True)) / 2
    made = prism_within(corners, lambda u, v: (u, v, 0.0), (0, 0, 1.0))
    found = read_part(write_step(made))
    assert volume(found.body) == pytest.approx(area, abs=1e-6)
    assert found.notes == () and faults(found.body) == ()
