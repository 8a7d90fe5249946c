"""Heads that taper and that a neck keeps off their wall: what they sweep, in clean pieces, against worked geometry."""

from __future__ import annotations

import math
from functools import cache

import pytest
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GCPnts import GCPnts_AbscissaPoint
from OCP.TopAbs import TopAbs_ShapeEnum
from OCP.TopoDS import TopoDS

from examples.shapes import Shape, box, cut, polygon, prism, volume
from schemas.base import Frame
from tests.support.trial import plan, raw_box, setup, stages_of, step, tool
from tests.support.undercut import FINISH, SLOT
from worker.kernel.planar import disc
from worker.kernel.rim import swept
from worker.kernel.shape import sub_shapes
from worker.stage.model import Stage
from worker.stage.removal.heads import Head

RUN = 1.0 / math.tan(math.radians(60))


def _part() -> Shape:
    """A dovetail of 60 degrees along X, 5 deep, its mouth 6 wide, in a block of 40 x 20 x 12; closed at the right."""
    wide = 3 + 5 * RUN
    outline = [(-21, -3, 0), (-21, -wide, -5), (-21, wide, -5), (-21, 3, 0)]
    return cut(box((-20, -10, -12), (20, 10, 0)), prism(polygon(outline), (31, 0, 0)))


@cache
def _stage() -> Stage:
    """Its mouth is cut down to the floor, then comes a head 3 high whose neck of 6.5 is thicker than the mouth."""
    mouth = step(FINISH, tool("endmill", 6), SLOT)
    head = tool("dovetail_mill", 10, APMX=3, KAPR=60, DN=6.5, LU=10, DMM=6.5)
    (stage,) = stages_of(_part(), plan(raw_box((-20, -10, -12), (20, 10, 0)), setup([mouth, step(FINISH, head, SLOT)])))
    return stage


def test_a_barred_head_leaves_no_edge_shorter_than_a_tenth_of_a_micrometre() -> None:
    """Where it comes in from the end, it turns about the corners of the slot's mouth and wall: corners of the part."""
    edges = (TopoDS.Edge_s(e) for e in sub_shapes(_stage().to_be.wrapped, TopAbs_ShapeEnum.TopAbs_EDGE))
    long = [GCPnts_AbscissaPoint.Length_s(BRepAdaptor_Curve(e)) for e in edges if not BRep_Tool.Degenerated_s(e)]
    assert min(long) > 1e-4


def test_a_barred_head_takes_no_more_than_the_wings() -> None:
    stage = _stage()
    wings = 30 * 5 * 5 * RUN  # two triangles of 5 x 5 RUN / 2, 30 long; what the mill's round corners leave stays
    assert stage.failures == () and 0 < stage.cuts[1].removal_volume < wings / 5
    assert sum(c.removal_volume for c in stage.cuts) == pytest.approx(
        stage.balance.as_is - stage.balance.to_be, abs=1e-5
    )


@pytest.mark.parametrize("corner", [0.0, 0.4])
def test_passes_over_each_other_sweep_one_solid_of_frustums(corner: float) -> None:
    """Over a disc: the flank of the first pass up to the floor of the second, which stands out all round again. The
    volume of each pass by slices of the head's own radius, by Simpson's rule (exact for frustums of sharp edges)."""
    head = Head(radius=5.0, height=3.0, corner=corner, flank=60.0)
    found = swept(disc((0.0, 0.0), 5.0), Frame(), 0.0, 5.0, head.stepped([0.0, 2.0]))

    def slices(high: float) -> float:
        heights = [high * k / 2000 for k in range(2001)]
        weights = [1, *(4 if k % 2 else 2 for k in range(1, 2000)), 1]
        return math.pi * high / 6000 * sum(w * head.at(h) ** 2 for w, h in zip(weights, heights, strict=True))

    assert sum(volume(body.wrapped) for body in found) == pytest.approx(slices(2.0) + slices(3.0), rel=1e-5)


def test_a_flank_joins_the_next_pass_only_past_its_rounded_edge() -> None:
    """A flank of 60 degrees comes in by 0.577 a millimetre; an edge of 1 mm radius begins 1.732 from the sharp corner,
    and a head 3 high is done after 3 mm."""
    assert Head(5.0, 3.0, 0.0, 60.0).steps(0.0, 1.0)
    assert not Head(5.0, 3.0, 0.0, 60.0).steps(0.0, 3.0)
    assert not Head(5.0, 3.0, 1.0, 60.0).steps(0.0, 1.0)
    assert not Head(5.0, 3.0, 0.0, 90.0).steps(0.0, 1.0)
