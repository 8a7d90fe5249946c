"""The numbered picture: every feature once, each number at its feature's place, the same bytes every time."""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree

import pytest
from PIL import Image

from schemas.units import MM
from worker.kernel import boolean, primitives
from worker.kernel.mesh import triangulate
from worker.present.meshes import mesh
from worker.present.numbered import Sheet, numbered_sheet, sheet_png, sheet_svg
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
