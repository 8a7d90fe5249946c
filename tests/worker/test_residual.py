"""Standing metal: lumps by the faces they cover, against plain box arithmetic (closed form)."""

from __future__ import annotations

from typing import Any

import pytest

from schemas.tolerances import LAYER
from worker import residual
from worker.kernel import attempts, boolean, measure, primitives
from worker.kernel.errors import KernelError
from worker.kernel.shape import Body
from worker.part import Part
from worker.recognise import recognise
from worker.residual import covered_features, missing, standing, standing_aside


def part_of(body: Body) -> Part:
    return Part(body, recognise(body), 6, measure.bounding_box(body), measure.volume(body), "")


@pytest.fixture(scope="module")
def block() -> Part:
    """40 x 30 x 20 with a blind hole of 8 mm, 10 deep, in the middle of its top."""
    solid = primitives.box((0.0, 0.0, 0.0), (40.0, 30.0, 20.0))
    return part_of(boolean.cut(solid, [primitives.cylinder((20.0, 15.0, 10.0), (20.0, 15.0, 25.0), 8.0)]))


def test_metal_on_one_side_is_one_lump_of_its_own_volume(block: Part) -> None:
    stock = boolean.fuse([block.body, primitives.box((40.0, 0.0, 0.0), (42.5, 30.0, 20.0))])
    (lump,) = standing(block, stock)
    assert lump.volume == pytest.approx(2.5 * 30 * 20, rel=1e-9)
    assert lump.thickness == pytest.approx(2.5, rel=1e-9)
    assert any(block.feature(id).class_ == "planar_face" for id in lump.features)


def test_lumps_apart_are_told_apart_largest_first(block: Part) -> None:
    plug = primitives.cylinder((20.0, 15.0, 10.0), (20.0, 15.0, 20.0), 8.0)
    stock = boolean.fuse([block.body, plug, primitives.box((0.0, 0.0, -1.0), (40.0, 30.0, 0.0))])
    first, second = standing(block, stock)
    assert first.volume == pytest.approx(40 * 30 * 1.0, rel=1e-9)
    assert second.volume == pytest.approx(3.141592653589793 * 16 * 10, rel=1e-6)
    assert "round_hole" in {block.feature(id).class_ for id in second.features}


def test_a_film_below_the_layer_tolerance_is_no_stock(block: Part) -> None:
    stock = boolean.fuse([block.body, primitives.box((40.0, 0.0, 0.0), (40.001, 30.0, 20.0))])
    assert standing(block, stock) == ()


def test_a_bump_in_a_film_is_told(block: Part) -> None:
    """1 x 1 x 1 on a film of 0.001 that covers the top: 2.2 mm3 on 1150 mm2, 1.9 micrometres in the mean. What meshes
    give is less than the bump by the layer tolerance round it at most."""
    film = boolean.cut(
        primitives.box((0, 0, 20), (40, 30, 20.001)), [primitives.cylinder((20, 15, 19), (20, 15, 21), 8)]
    )
    stock = boolean.fuse([block.body, film, primitives.box((2, 2, 20), (3, 3, 21))])
    (lump,) = standing(block, stock)
    assert lump.volume == pytest.approx(1.0, abs=5 * 2 * LAYER)
    assert lump.box.max == pytest.approx((3, 3, 21), abs=2 * LAYER)


def test_nothing_stands_on_the_finished_part(block: Part) -> None:
    assert standing(block, block.body) == ()
    assert covered_features(()) == frozenset()


def test_what_a_short_blank_lacks(block: Part) -> None:
    short = primitives.box((0.0, 0.0, 0.0), (39.0, 30.0, 20.0))
    assert measure.volume(missing(block, short)) == pytest.approx(1.0 * 30 * 20, rel=1e-9)


def test_of_bodies_with_many_faces_the_plain_way_alone_is_tried(block: Part, monkeypatch: pytest.MonkeyPatch) -> None:
    """Six ways are known: each takes seconds there, a part moved a hair hours."""
    tried, run = [], attempts._run

    def listening(*arguments: Any, **named: Any) -> attempts.Raw:
        tried.append(named)
        return run(*arguments, **named)

    monkeypatch.setattr(attempts, "_run", listening)
    monkeypatch.setattr(attempts, "_first_fault", lambda *_: "made to fail")
    for few, ways in ((1000, 5), (8, 1)):
        tried.clear()
        monkeypatch.setattr(residual, "MANY", few)
        with pytest.raises(KernelError, match="made to fail"):
            standing(block, block.body)
        assert len(tried) == ways
    with pytest.raises(KernelError, match="so many faces"):
        standing_aside(block, block.body)
