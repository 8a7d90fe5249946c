"""The same part as other exporters would write it: units, directions, seams, halves, splines, slivers, order.

Recognition must tell the same features whichever way a part is written. Each function takes a body and a seed and gives
the body as it is read back.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Callable

from OCP.BRep import BRep_Builder
from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy, BRepBuilderAPI_MakeFace
from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
from OCP.ShapeUpgrade import ShapeUpgrade_ShapeDivideAngle
from OCP.TopoDS import TopoDS_Face, TopoDS_Shell, TopoDS_Solid

from bench.reencode import as_nurbs, divided, reencoded, split, turned
from worker.kernel.measure import bounding_box
from worker.kernel.shape import Body, faces
from worker.kernel.stepio import read_part, write_step

Rewrite = Callable[[Body, int], Body]
SLIVER = 1e-4
"""Width of the strips that faces are cut into (mm)."""
_PLANE = r"(#\d+) = PLANE\('',(#\d+)\);"
_PLACED = r"(#\d+) = AXIS2_PLACEMENT_3D\('',(#\d+),(#\d+),(#\d+)\);"
_WAY = r"(#\d+) = DIRECTION\('',\(([^,)]*),([^,)]*),([^,)]*)\)\);"
_FACE = r"(ADVANCED_FACE\([^;]*\),)(#\d+),\.([TF])\."


def in_inches(body: Body, _seed: int) -> Body:
    """Written in inches."""
    return read_part(write_step(body, "inch")).body


def turned_over(body: Body, _seed: int) -> Body:
    """Every plane with its normal the other way, its face with the other sense."""
    text = re.sub(r"\n\s*(?!#\d+ =)", "", write_step(body).decode("ascii"))
    placed = {m[0]: m[1:] for m in re.findall(_PLACED, text)}
    ways = {m[0]: m[1:] for m in re.findall(_WAY, text)}
    free = max(int(n) for n in re.findall(r"#(\d+) =", text)) + 1
    more, other = [], {}
    for plane, place in re.findall(_PLANE, text):
        at, way, ref = placed[place]
        back = ",".join(f"{-float(c):.15E}" for c in ways[way])
        more.append(f"#{free} = DIRECTION('',({back}));\n#{free + 1} = AXIS2_PLACEMENT_3D('',{at},#{free},{ref});\n")
        more.append(f"#{free + 2} = PLANE('',#{free + 1});\n")
        other[plane], free = f"#{free + 2}", free + 3
    text = re.sub(_FACE, lambda m: _turned(m, other), text)
    end = text.index("ENDSEC", text.index("DATA;"))
    return read_part((text[:end] + "\n" + "".join(more) + text[end:]).encode("ascii")).body


def _turned(face: re.Match[str], other: dict[str, str]) -> str:
    if face[2] not in other:
        return face[0]
    return f"{face[1]}{other[face[2]]},.{'F' if face[3] == 'T' else 'T'}."


def in_halves(body: Body, _seed: int) -> Body:
    """Round faces in pieces of half a turn at most."""
    builder = ShapeUpgrade_ShapeDivideAngle(math.pi, body.wrapped)
    builder.Perform()
    return Body(builder.Result())


def as_splines(body: Body, _seed: int) -> Body:
    """Every surface and curve as a rational B-spline."""
    return as_nurbs(body)[0]


def in_pieces(body: Body, seed: int) -> Body:
    """Faces divided at random."""
    return split(body, seed)[0]


def with_slivers(body: Body, seed: int) -> Body:
    """Faces cut along two planes a hair apart, so that there are faces and edges of that width."""
    rng, box = random.Random(seed), bounding_box(body)
    at = [rng.uniform(0.8 * a + 0.2 * b, 0.2 * a + 0.8 * b) for a, b in zip(box.min, box.max, strict=True)]
    way = [rng.gauss(0, 1) for _ in range(3)]
    size = math.hypot(*way)
    near = [a + SLIVER * c / size for a, c in zip(at, way, strict=True)]
    return divided(body, [_cutting(p, way, 2 * box.diagonal) for p in (at, near)])[0]


def _cutting(at: list[float], way: list[float], reach: float) -> TopoDS_Face:
    return BRepBuilderAPI_MakeFace(gp_Pln(gp_Pnt(*at), gp_Dir(*way)), -reach, reach, -reach, reach).Face()


def reordered(body: Body, seed: int) -> Body:
    """The faces in any order."""
    shuffled = list(faces(Body(BRepBuilderAPI_Copy(body.wrapped).Shape())))
    random.Random(seed).shuffle(shuffled)
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face in shuffled:
        builder.Add(shell, face)
    shell.Closed(True)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return Body(solid)


def at_any_angle(body: Body, seed: int) -> Body:
    """Turned and moved."""
    return turned(body, seed)[0]


def all_at_once(body: Body, seed: int) -> Body:
    """Turned, divided, as splines."""
    return reencoded(body, seed)[0]


UPRIGHT: dict[str, Rewrite] = {
    "inch": in_inches,
    "turned over": turned_over,
    "halves": in_halves,
    "splines": as_splines,
    "pieces": in_pieces,
    "slivers": with_slivers,
    "reordered": reordered,
}
"""Those that leave the part where it lies."""
MOVED: dict[str, Rewrite] = {"turned": at_any_angle, "all": all_at_once}
