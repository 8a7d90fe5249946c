"""Pictures are drawn once for the same bodies seen the same way, and anew for any other."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import worker.present.picture as picture
from schemas.report import report_document
from tests.support.plate import on_plate, plate
from worker.cache.kept import Kept
from worker.cache.store import Place, Store
from worker.extras import make_extras
from worker.pipeline import check_plan

NAMES = ("report.html", "setup-sheet.pdf", "stages/*.png")


def test_what_was_drawn_before_is_not_drawn_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[tuple[object, ...]] = []
    painted = picture.paint

    def paint(shown: object, view: object) -> bytes:
        drawn.append((shown, view))
        return painted(shown, view)  # type: ignore[arg-type]

    monkeypatch.setattr(picture, "paint", paint)
    plan = on_plate()
    checked = check_plan(plate(), json.dumps(plan).encode(), {})
    document = report_document(checked.report)
    bare = make_extras(NAMES, document, checked, Kept())
    count = len(drawn)
    assert count == 3 * len(plan["setups"])  # a page's and two of the sheet's for each setup
    kept = Kept(Store(Place(str(tmp_path))))
    assert make_extras(NAMES, document, checked, kept) == bare and len(drawn) == 2 * count
    assert make_extras(NAMES, document, checked, kept) == bare and len(drawn) == 2 * count
    plan["workpiece"]["rawpiece"]["box"]["max"][2] += 2
    other = check_plan(plate(), json.dumps(plan).encode(), {})
    changed = make_extras(NAMES, report_document(other.report), other, kept)
    assert len(drawn) == 3 * count and changed["stages/S1.png"] != bare["stages/S1.png"]
