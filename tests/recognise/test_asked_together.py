"""What is asked of many free-form patches together, against the same asked of one after the other."""

import pytest

from bench.growth_shapes import GROWTH
from schemas.base import unit
from schemas.tolerances import MESH, SIGHT_CURVED
from worker.kernel.graph import face_graph
from worker.recognise.access import Sight
from worker.recognise.extent import MANY, extent
from worker.recognise.patches import part_shape

GRAPH = face_graph(GROWTH["freeform"](40))
SLOPING = unit((0.3, -0.2, 0.9))


@pytest.mark.parametrize("way", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), SLOPING])
def test_reaches(way):
    alone, together = part_shape(GRAPH), part_shape(GRAPH)
    free = [p.index for p in alone.patches if p.surface.kind == "other"]
    assert len(free) > MANY
    spans = [extent(alone, (p,), way) for p in free]
    found = extent(together, free, way)
    assert found == pytest.approx((min(low for low, _ in spans), max(high for _, high in spans)), abs=1e-9)
    for p, span in zip(free, spans, strict=True):
        assert extent(together, (p,), way) == pytest.approx(span, abs=1e-9)
    heights = [sum(a * b for a, b in zip(place, way, strict=True)) for p in free for place in alone.patches[p].vertices]
    assert found[0] <= min(heights) + 1e-9 and max(heights) - 1e-9 <= found[1] < max(heights) + MESH


def test_which_way_patches_look():
    shape = part_shape(GRAPH)
    free = tuple(p.index for p in shape.patches if p.surface.kind == "other")
    for way in ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0), unit((0.9, 0.0, 0.1)), SLOPING):
        together, alone = Sight(shape), Sight(shape)
        told = together.sees(free, way)
        assert told == all(alone.sees((p,), way) for p in free)
        leans = [float((shape.normals[shape.slices[p]] @ way).min()) for p in free]
        sound = [(p, lean) for p, lean in zip(free, leans, strict=True) if lean > -SIGHT_CURVED]
        assert all(together.facing[way, p] for p, _ in sound)
        assert not any(together.facing.get((way, p), False) for p in free if leans[p] < -0.2)
