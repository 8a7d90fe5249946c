"""Threads of the model: helical flanks and named faces, against ISO 261, ISO 68-1 and ASME B1.1 sizes."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from bench.reencode import as_nurbs, split, turned
from schemas.feature import Feature
from tests.recognise.parts import block, drill
from tests.support.screws import minor, oil_groove, stud, tapped_block
from worker.inputs import read_part
from worker.kernel.boolean import cut
from worker.kernel.graph_helix import helix_of
from worker.kernel.measure import volume
from worker.kernel.shape import Body, faces
from worker.kernel.stepio import write_step
from worker.recognise import recognise
from worker.recognise.survey import survey

UNC_HALF = 25.4 / 13


def hole(features: tuple[Feature, ...]) -> Feature:
    (found,) = [f for f in features if f.class_ == "round_hole"]
    return found


@pytest.mark.parametrize(
    ("d", "pitch", "left", "name"),
    [
        (8, 1.25, False, "M8x1.25"),
        (8, 1.25, True, "M8x1.25-LH"),
        (10, 1.0, False, "M10x1"),
        (12.7, UNC_HALF, False, "1/2-13 UNC"),
        (9.3, 1.4, False, "ø 9.3 x 1.4"),
    ],
)
def test_helical_flanks_are_the_thread_of_their_hole(d: float, pitch: float, left: bool, name: str) -> None:
    found = hole(recognise(tapped_block(d, pitch, left=left)))
    assert (found.thread, found.bottom, found.access) == (name, "conical", ((0.0, 0.0, 1.0),))
    assert (found.diameter, found.depth) == pytest.approx((minor(d, pitch), 16), abs=1e-4)


@pytest.mark.parametrize("left", [False, True])
def test_a_stud_carries_its_thread_outside(left: bool) -> None:
    (boss,) = [f for f in recognise(stud(8, 1.25, left=left)) if f.class_ == "boss"]
    assert (boss.thread, boss.diameter) == ("M8x1.25" + "-LH" * left, pytest.approx(8))


def test_the_crest_may_be_a_drilled_bore() -> None:
    found = hole(recognise(tapped_block(8, 1.25, drilled=6.8)))
    assert (found.thread, found.diameter) == ("M8x1.25", pytest.approx(6.8))


@pytest.mark.parametrize("written", [lambda b: turned(b, 3), as_nurbs, lambda b: split(b, 2)])
def test_another_encoding_keeps_the_thread(written) -> None:  # type: ignore[no-untyped-def]
    body, _ = written(tapped_block(8, 1.25))
    assert hole(recognise(body)).thread == "M8x1.25"


def test_a_spiral_oil_groove_is_no_thread() -> None:
    assert all(f.thread is None for f in recognise(oil_groove()))


def test_the_part_that_is_cut_has_plain_bores_in_place_of_threads() -> None:
    # 60 x 40 x 20 less a bore of D1 = 8 - 1.0825 * 1.25, 16 deep, and its point: handbook volumes.
    radius = minor(8, 1.25) / 2
    plain = 48000 - math.pi * radius**2 * (16 + radius / math.tan(math.radians(59)) / 3)
    found = survey(tapped_block(8, 1.25))
    assert volume(found.body) == pytest.approx(plain, rel=1e-9)
    assert hole(found.features).thread == "M8x1.25" and "M8x1.25" in found.notes[0]
    assert max(f for feature in found.features for f in feature.faces) < len(faces(found.body))


@pytest.mark.parametrize("lead", [1.25, -2.0, 30.0])
def test_screw_axis_of_a_helicoid(lead: float) -> None:
    """A ruled helicoid (r cos t, r sin t, h t), h = lead / 2 pi, with normal (h sin t, -h cos t, r) over its length."""
    h = lead / (2 * math.pi)
    r, t = (a.ravel() for a in np.meshgrid(np.linspace(3, 4, 6), np.linspace(0, 5, 7)))
    points = np.stack([r * np.cos(t) + 7, r * np.sin(t) - 2, h * t], axis=1)
    normals = np.stack([h * np.sin(t), -h * np.cos(t), r], axis=1)
    found = helix_of(points, normals / np.linalg.norm(normals, axis=1)[:, None])
    assert found is not None and found.lead == pytest.approx(lead)
    assert np.cross(found.axis, (0, 0, 1)) == pytest.approx((0, 0, 0), abs=1e-9)
    assert found.origin[:2] == pytest.approx((7, -2))


def test_a_wavy_sheet_has_no_screw_axis() -> None:
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(0, 3, 6), np.linspace(0, 4, 7)))
    points = np.stack([x, y, np.sin(x) * np.cos(2 * y)], axis=1)
    normals = np.stack([-np.cos(x) * np.cos(2 * y), 2 * np.sin(x) * np.sin(2 * y), np.ones_like(x)], axis=1)
    assert helix_of(points, normals / np.linalg.norm(normals, axis=1)[:, None]) is None


def named_file(body: Body, **names: str) -> bytes:
    """The part as STEP; ``r34="M8"``: the faces on cylinders of radius 3.4 bear that name."""
    text = write_step(body, "mm", "part").decode()
    for key, name in names.items():
        radius = int(key[1:]) / 10
        for number in re.findall(rf"#(\d+) = CYLINDRICAL_SURFACE\('',#\d+,{radius:g}\)", text):
            text = re.sub(rf"ADVANCED_FACE\(''(,\([^)]*\),#{number},)", rf"ADVANCED_FACE('{name}'\1", text)
    return text.encode()


@pytest.mark.parametrize(
    ("name", "thread"),
    [("M8x1.25", "M8x1.25"), ("M8", "M8x1.25"), ("M8-6H", "M8x1.25"), ("M8x1.25-LH", "M8x1.25-LH"), ("M20", None),
     ("Cut-Extrude1", None), ("17", None)],
)  # fmt: skip
def test_the_name_of_a_holes_face_states_its_thread(name: str, thread: str | None) -> None:
    body = cut(block(), [drill(20, 30, -1, 21, 6.8), drill(60, 30, -1, 21, 9)])
    part, _ = read_part(named_file(body, r34=name))
    found = {round(f.diameter or 0, 3): f.thread for f in part.features if f.class_ == "round_hole"}
    assert found == {6.8: thread, 9.0: None}


def test_a_named_hole_keeps_its_name_in_a_counterbore_and_its_compound_has_none() -> None:
    body = cut(block(), [drill(20, 30, -1, 21, 6.8), drill(20, 30, 13, 21, 15)])
    part, _ = read_part(named_file(body, r34="M8x1.25"))
    threads = sorted((f.class_, f.thread or "") for f in part.features if "hole" in f.class_)
    assert threads == [("counterbore_hole", ""), ("round_hole", ""), ("round_hole", "M8x1.25")]
