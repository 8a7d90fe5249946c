"""Threads of the model: helical flanks and named faces, against ISO 261, ISO 68-1 and ASME B1.1 sizes."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from bench.reencode import as_nurbs, split, turned
from schemas.feature import Feature
from schemas.thread_forms import OF_30, OF_55, OF_60, MeasuredThread, designation_of, makes
from schemas.threads import parse_thread
from tests.recognise.parts import block, drill
from tests.support.recognised import recognise
from tests.support.screws import (
    X,
    Y,
    crossed,
    minor,
    oil_groove,
    pipe_radius,
    pipe_stud,
    stud,
    tapped_block,
    trapezoid_stud,
)
from worker.inputs import read_part
from worker.kernel.boolean import cut
from worker.kernel.graph_helix import helix_of
from worker.kernel.measure import volume
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import Body, faces
from worker.kernel.stepio import write_step
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


@pytest.mark.parametrize(
    ("d", "pitch", "starts", "left", "name"),
    [(12, 1.75, 2, True, "M12xPh3.5P1.75-LH")],
)
def test_a_thread_of_several_starts_states_lead_and_pitch(
    d: float, pitch: float, starts: int, left: bool, name: str
) -> None:
    # ISO 965-1 writes Ph (lead = starts x pitch), then P
    found = survey(turned(tapped_block(d, pitch, starts=starts, left=left), 5)[0])
    one = hole(found.features)
    assert (one.thread, one.bottom, one.depth) == (name, "conical", pytest.approx(16, abs=1e-4))
    assert [f.class_ for f in found.features if f.class_ in ("open_pocket", "slot", "region")] == []


@pytest.mark.parametrize(("d", "pitch", "starts", "name"), [(16, 4, 1, "Tr16x4"), (28, 5, 2, "Tr28x10P5")])
def test_a_trapezoidal_thread(d: float, pitch: float, starts: int, name: str) -> None:
    (boss,) = [f for f in survey(trapezoid_stud(d, pitch, starts)).features if f.class_ == "boss"]
    assert (boss.thread, boss.diameter) == (name, pytest.approx(d))


def test_a_tapered_thread_is_a_pipes() -> None:
    """R 3/8: 19 an inch, flanks of 55 degrees, 16.662 wide at the gauge plane, 1 : 16 (ISO 7-1)."""
    found = survey(pipe_stud(17, 25.4 / 19, 27.5))
    (boss,) = [f for f in found.features if f.class_ == "boss"]
    low, high = pipe_radius(17, 0), pipe_radius(17, 20)
    frustum = math.pi / 3 * 20 * (low * low + low * high + high * high)
    assert volume(found.body) == pytest.approx(24000 + frustum, rel=1e-9)  # block and cone, closed form
    assert (boss.thread, boss.height) == ("R 3/8", pytest.approx(20))


@pytest.mark.parametrize("written", [lambda b: as_nurbs(turned(b, 4)[0])[0]])
def test_a_hole_across_a_thread_stays(written) -> None:  # type: ignore[no-untyped-def]
    # block 24000 and shank pi 36 13; the hole of 3 takes the bicylinder's part of the shank: brute-force integral
    body = written(crossed(stud(12, 1.75, high=13), cylinder((-1, Y, 19), (61, Y, 19), 3)))
    found = survey(body)
    across = np.linspace(-1.5, 1.5, 200001)
    chords = 2 * np.sqrt(36 - across**2) * 2 * np.sqrt(2.25 - across**2)
    taken = float(((chords[1:] + chords[:-1]) / 2).sum() * (across[1] - across[0]))
    assert volume(found.body) == pytest.approx(24000 + math.pi * 36 * 13 - taken, rel=1e-6)
    (boss,) = [f for f in found.features if f.class_ == "boss"]
    assert (boss.thread, boss.height) == ("M12x1.75", pytest.approx(13))
    assert hole(found.features).diameter == pytest.approx(3)


def test_a_slot_and_a_flat_across_a_thread_stay() -> None:
    body = crossed(stud(12, 1.75, high=13), box((X - 1.2, 0, 18), (X + 1.2, 40, 24)))
    found = survey(crossed(body, box((X + 4.5, 0, 10), (X + 20, 40, 24))))
    (slot,) = [f for f in found.features if f.class_ == "slot"]
    assert (slot.width, slot.depth) == pytest.approx((2.4, 5), abs=1e-4)
    assert [f.thread for f in found.features if f.class_ == "boss"] == ["M12x1.75"]


@pytest.mark.parametrize(
    ("thread", "name"),
    [
        (MeasuredThread((9.3, 9.3), 1.4, 1, True, True, OF_60), "ø 9.3 x 1.4-LH"),
        (MeasuredThread((41, 41), 7, 2, False, True, OF_30), "Tr40x14P7"),  # D4 = d + 2 a_c, a_c = 0.5, ISO 2904
        (MeasuredThread((41, 41), 6.5, 1, False, True, OF_30), "ø 41 x 6.5"),
        (MeasuredThread((18, 19), 25.4 / 14, 1, False, False, OF_55, 1 / 32), "ø 18/19 x 1.814"),
        (MeasuredThread((20.5, 21.5), 25.4 / 14, 1, False, True, OF_55, 1 / 32), "Rc 1/2"),
        (MeasuredThread((20.5, 21.8), 25.4 / 14, 1, False, False, OF_60, 1 / 32), "NPT 1/2"),
        (MeasuredThread((16, 16), 3, 2, True, True, OF_60), "ø 16 x 6P3-LH"),
        (MeasuredThread((20.5, 21.5), 25.4 / 14, 1, False, True, OF_55, 1 / 16), "ø 20.5/21.5 x 1.814"),
    ],
)
def test_designations(thread: MeasuredThread, name: str) -> None:
    assert designation_of(thread) == name


@pytest.mark.parametrize(
    ("tap", "stated", "fits"),
    [
        ("M12x1.75", "M12xPh3.5P1.75", False),
        ("M12x1.75", "M12x1.75", True),
        ("M12x1.75", "Tr12x1.75", False),
        ("M9.3x1.4", "ø 9.3 x 1.4", True),
        ("M9x1.25", "ø 9.3 x 1.4", False),
        ("M9.3x1.4-LH", "ø 9.3 x 1.4", False),
        ("1/2-14 UNS", "Rc 1/2", False),
    ],
)
def test_which_tap_makes_a_stated_thread(tap: str, stated: str, fits: bool) -> None:
    assert makes(parse_thread(tap), stated) is fits


def test_a_hole_across_a_tapped_hole_stays() -> None:
    found = survey(crossed(tapped_block(16, 2), cylinder((X, Y, 14), (61, Y, 14), 5)))
    holes = {round(f.diameter or 0, 3): (f.thread, round(f.depth or 0, 3)) for f in found.features if f.diameter}
    assert holes[round(minor(16, 2), 3)] == ("M16x2", 16)
    assert holes[5][0] is None


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
