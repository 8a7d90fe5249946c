"""Each kind of bad STEP file raises its own Problem, with the file's name, a reason and a remedy."""

import re
import time

import pytest
from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.gp import gp_Pnt
from OCP.TopoDS import TopoDS_Solid

from schemas.problem import Problem
from tests.support import step_texts as texts
from worker.isolate import Limits, run_isolated
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import compound, compound_of, shells
from worker.kernel.stepio import read_part, write_step
from worker.kernel.steptext import MAX_BYTES, find_ring, survey

BLOCK = texts.block_text()


def wires():
    edge = BRepBuilderAPI_MakeEdge(gp_Pnt(0, 0, 0), gp_Pnt(10, 0, 0)).Edge()
    return texts.raw_step(compound_of([edge]))


def three_shells():
    odd = TopoDS_Solid()
    builder = BRep_Builder()
    builder.MakeSolid(odd)
    for x in (0, 20, 40):
        builder.Add(odd, shells(box((x, 0, 0), (x + 10, 10, 10)).wrapped)[0])
    return texts.raw_step(odd)


def odd_inch():
    return texts.block_text("inch").replace("LENGTH_MEASURE(25.4)", "LENGTH_MEASURE(2.54)")


def bow_tie():
    """A vertex moved through the opposite wall: faces are no longer flat and cross each other."""
    return BLOCK.replace("CARTESIAN_POINT('',(60.,40.,20.))", "CARTESIAN_POINT('',(-30.,40.,-70.))")


CONE = write_step(cone((0, 0, 0), (0, 0, 10), 20, 10)).decode()


BORED = write_step(cut(box((0, 0, 0), (60, 40, 20)), [cylinder((30, 20, -1), (30, 20, 21), 10)])).decode()


def without(text, keyword):
    """One instance of the kind is gone, and what refers to it is not."""
    return re.sub(rf"#\d+ = {keyword}\([^;]*;\n", "", text, count=1)


CASES = {
    "empty": (b"", "part.not-step", "empty"),
    "noise": (bytes(range(256)) * 40, "part.not-step", "begin"),
    "mesh": (b"solid x\nfacet normal 0 0 1\n", "part.not-step", "STL"),
    "archive": (b"PK\x03\x04" + bytes(100), "part.not-step", "ZIP"),
    "cut off": (BLOCK[: len(BLOCK) // 2].encode(), "part.not-step", "cut off"),
    "other schema": (texts.with_schema(BLOCK, "IFC4").encode(), "part.not-step", "IFC4"),
    "wires": (wires(), "part.no-solid", "no solid"),
    "text only": (b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\nENDSEC;\n"
                  b"END-ISO-10303-21;\n", "part.no-solid", "no solid"),
    "solid in a comment": (b"ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\nDATA;\n"
                           b"#1=PRODUCT('MANIFOLD_SOLID_BREP a; b','','',());/* MANIFOLD_SOLID_BREP */\nENDSEC;\n"
                           b"END-ISO-10303-21;\n", "part.no-solid", "no solid"),
    "two solids": (write_step(compound([box((0, 0, 0), (9, 9, 9)), box((20, 0, 0), (29, 9, 9))])),
                   "part.several-solids", "2 solids"),
    "three shells": (three_shells(), "part.several-solids", "3"),
    "open shell": (texts.without_face(BLOCK).encode(), "part.open-shell", "open"),
    "no unit": (texts.without_unit(BLOCK).encode(), "part.no-unit", "length unit"),
    "two units": (texts.with_second_unit(BLOCK).encode(), "part.no-unit", "two length units"),
    "odd inch": (odd_inch().encode(), "part.unit-suspect", "inch"),
    "60 m": (BLOCK.replace(".MILLI.", ".KILO.").encode(), "part.unit-suspect", "diagonal"),
    "self reference": (texts.with_self_reference(BLOCK).encode(), "part.invalid", "refers to itself"),
    "ring": (texts.with_ring(BLOCK).encode(), "part.invalid", "refers to itself"),
    "assembly of itself": (texts.self_containing_assembly(BLOCK).encode(), "part.invalid", "contains itself"),
    "bomb": (texts.unfolding_assembly(BLOCK).encode(), "part.too-large", "components"),
    "no number": (BLOCK.replace("CARTESIAN_POINT('',(60.,", "CARTESIAN_POINT('',(NAN,", 1).encode(),
                  "part.invalid", "NAN"),
    "too far": (BLOCK.replace("CARTESIAN_POINT('',(60.,", "CARTESIAN_POINT('',(1.E20,", 1).encode(),
                "part.invalid", "1.E20"),
    "unknown prefix": (BLOCK.replace(".MILLI.", ".MULLI.").encode(), "part.no-unit", "length unit"),
    "no angle unit": (CONE.replace("PLANE_ANGLE_UNIT", "SOME_ANGLE_UNIT").encode(), "part.no-unit", "angles"),
    "gap": (without(BLOCK, "VERTEX_POINT").encode(), "part.invalid", "does not hold"),
    "twins": (BLOCK.replace("DATA;", "DATA;\n#15 = CARTESIAN_POINT('',(1.,2.,3.));", 1).encode(),
              "part.invalid", "twice"),
    "other radius": (re.sub(r"(CYLINDRICAL_SURFACE\('',#\d+),5\.", r"\1,9.", BORED).encode(),
                     "part.invalid", "beside its faces"),
    "syntax": (BLOCK.replace("CLOSED_SHELL('',(", "CLOSED_SHELL((((").encode(),
               "part.invalid", ""),
    "bow tie": (bow_tie().encode(), "part.invalid", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_refusal(name):
    data, slug, words = CASES[name]
    with pytest.raises(Problem) as caught:
        read_part(data, "valve.step")
    problem = caught.value
    assert (problem.type, problem.pointer) == (slug, "valve.step")
    assert words in problem.detail
    assert problem.remedy.endswith(".") and problem.detail.endswith(".")
    assert "\n" not in problem.sentence() and "OCP" not in problem.sentence()


def test_too_many_bytes_are_refused_unread():
    with pytest.raises(Problem) as caught:
        read_part(b"ISO-10303-21;" + bytes(MAX_BYTES), "big.step")
    assert (caught.value.type, caught.value.status) == ("part.too-large", 413)
    assert read_part(BLOCK.encode(), limit=len(BLOCK)).unit == "mm"


def test_a_large_file_without_a_solid_is_refused_at_once():
    """The kernel's reader takes seconds for as much."""
    line = "#{} = CARTESIAN_POINT('',(1.,2.,3.));\n"
    points = "".join(line.format(n) for n in range(1000, 601000))
    head, tail = BLOCK[: BLOCK.index("DATA;") + 6], "ENDSEC;\nEND-ISO-10303-21;\n"
    started = time.process_time()
    with pytest.raises(Problem, match="no-solid"):
        survey((head + points + tail).encode())
    assert time.process_time() - started < 2.0


def test_find_ring():
    assert find_ring({1: (2,), 2: (3,), 3: ()}) is None
    assert find_ring({1: (2, 3), 2: (4,), 3: (4,), 4: ()}) is None  # a diamond is no ring
    assert find_ring({1: (2,), 2: (3,), 3: (1,)}) in {1, 2, 3}
    assert find_ring({n: (n + 1,) for n in range(50_000)}) is None  # no recursion


def spoilt(text, number):
    """One of many ways to damage a file, chosen by number: a reference, a coordinate, a keyword, a cut."""
    spots = [i for i, c in enumerate(text) if c == "#"]
    at = spots[(number * 7919) % len(spots)]
    if number % 4 == 0:
        return text[:at] + "#1" + text[at + 2 :]
    if number % 4 == 1:
        return text[:at] + text[at + 40 :]
    if number % 4 == 2:
        return text.replace("(20.,", "(1.E300,", 1 + number % 3)
    return text[:at] + "$" + text[at + 1 :]


def read_volume(payload, progress):
    from worker.kernel.measure import volume

    return repr(volume(read_part(payload).body)).encode()


@pytest.mark.parametrize("number", range(24))
def test_damaged_files_never_reach_the_caller_as_anything_but_an_outcome(number):
    data = spoilt(BLOCK, number).encode()
    outcome = run_isolated("tests.kernel.test_step_refusals:read_volume", data, Limits(wall=20))
    assert outcome.kind in {"ok", "problem", "crashed"}
    if outcome.kind != "ok":
        with pytest.raises(Problem) as caught:
            outcome.unwrap("x.step")
        assert caught.value.type.startswith("part.")
