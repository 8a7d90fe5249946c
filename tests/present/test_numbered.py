"""The numbered picture: every feature once, each number at its feature's place, the same bytes every time."""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree

import pytest
from PIL import Image

from schemas.base import Frame
from schemas.units import MM
from worker.kernel import boolean, primitives
from worker.kernel.mesh import triangulate
from worker.present.meshes import mesh
from worker.present.numbered import FILL, FROM_ABOVE, HEIGHT, WIDTH, Sheet, numbered_sheet, sheet_png, sheet_svg
from worker.present.picture import faces_seen, view_of
from worker.recognise import recognise

SOLID = boolean.cut(
    primitives.box((0.0, 0.0, 0.0), (60.0, 40.0, 20.0)),
    [
        primitives.cylinder((15.0, 20.0, -1.0), (15.0, 20.0, 21.0), 8.0),
        primitives.box((30.0, 10.0, 12.0), (50.0, 30.0, 21.0)),
    ],
)
FEATURES = recognise(SOLID)


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    return numbered_sheet(mesh(*triangulate(SOLID)), FEATURES, MM)


def test_every_feature_has_one_number_and_one_line(sheet: Sheet) -> None:
    assert [m.number for m in sheet.marks] == list(range(1, len(FEATURES) + 1))
    assert [re.split(r"\s+", line.strip())[1] for line in sheet.lines] == [f.id for f in FEATURES]


def test_svg_is_xml_and_tells_what_the_png_shows(sheet: Sheet) -> None:
    tree = ElementTree.fromstring(sheet_svg(sheet).decode())
    texts = [e.text for e in tree.iter() if e.tag.endswith("text")]
    assert set(sheet.lines) <= set(texts)
    image = Image.open(io.BytesIO(sheet_png(sheet)))
    assert image.size == (sheet.width, sheet.height)
    assert len(set(image.resize((64, 64)).getdata())) > 8  # something is drawn


def test_the_same_part_gives_the_same_bytes(sheet: Sheet) -> None:
    again = numbered_sheet(mesh(*triangulate(SOLID)), FEATURES, MM)
    assert sheet_svg(again) == sheet_svg(sheet)
    assert sheet_png(again) == sheet_png(sheet)


def test_a_number_points_at_what_is_seen_of_its_feature() -> None:
    # A step on the left: the block behind its floor (z 6) hides it from the first view, but for x 0 to 6.
    body = boolean.cut(primitives.box((0, 0, 0), (60, 40, 20)), [primitives.box((-1, -1, 6), (20, 41, 21))])
    features = recognise(body)
    drawn = mesh(*triangulate(body))
    step = next(i for i, f in enumerate(features) if f.class_ == "step")
    seen = faces_seen(drawn, view_of(Frame(), [drawn], WIDTH, HEIGHT, *FROM_ABOVE, FILL))
    column, row = numbered_sheet(drawn, features, MM).marks[step].tip
    assert seen[int(row), int(column)] in features[step].faces
