"""A ball along an edge round of which one half is finished already: the other half says how far it must stand out."""

from __future__ import annotations

import functools

import pytest

from tests.support.trial import inputs, plan, setup, step, tool
from worker.kernel import boolean, stepio
from worker.kernel import primitives as solid
from worker.kernel.shape import Body
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.reach import reach_of
from worker.reach.model import Reach
from worker.resolve import resolve

BLOCK = solid.box((0, 0, 0), (80, 40, 20))


def _rounded(end: float) -> Body:
    """The block with its upper edge at y = 0 round by 5 up to ``end``."""
    corner = solid.box((-1, -1, 15), (end, 5, 21))
    return boolean.cut(BLOCK, [boolean.cut(corner, [solid.cylinder((-2, 5, 15), (82, 5, 15), 10)])])


@functools.cache
def _bytes(end: float) -> bytes:
    return stepio.write_step(_rounded(end), "mm", "part")


def _reach(clamp: tuple[float, float]) -> Reach:
    ball = tool("ballnose_endmill", 10, APMX=12, LU=14, stickout=25, holder=[{"diameter": 40, "length": 40}])
    held = [
        {"type": "plate", "box": {"min": [-40, -60, -60], "max": [120, 90, -20]}},
        {"type": "clamp", "name": "clamp", "box": {"min": [clamp[0], -30, -10], "max": [clamp[1], -13, 25]}},
    ]
    works = [step("freeform_operation", ball, {"class": "edge_round"})]
    holding = {"type": "fixture_plate", "elements": held}
    document = plan({"step": "cast"}, setup(works, location=[0, 0, 20], workholding=holding))
    found = inputs(_bytes(81), document, {"cast": _bytes(40)})
    (stage,) = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    (reach,) = reach_of(stage, found.part).values()
    return reach


@pytest.mark.parametrize(("clamp", "told"), [((-15, 5), False), ((45, 60), True)])
def test_a_holder_is_asked_where_there_is_metal_to_cut(clamp: tuple[float, float], told: bool) -> None:
    """Tip 10 at the upright end of the round (15 - 5), clamp's top 45: 35 at least."""
    reach = _reach(clamp)
    assert (reach.holder is not None) == told
    if told:
        assert reach.least_stickout == pytest.approx(35.0, abs=0.02)
