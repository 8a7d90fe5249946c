"""The setup sheet, read back from the PDF."""

import io
import re

import pytest
from pypdf import PdfReader

from tests.support.documents import document, workingstep
from tests.support.solids import stage_meshes
from worker.present.sheet import setup_sheet


def pages(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


@pytest.fixture(scope="module")
def sheet() -> bytes:
    return setup_sheet(document(), stage_meshes())


def test_a_page_for_each_setup_with_its_offset(sheet: bytes) -> None:
    first, second = pages(sheet)
    assert "S1" in first
    assert "G54" in first
    assert "S2" in second
    assert "G55" in second


def test_the_page_says_what_the_operator_sets(sheet: bytes) -> None:
    first, second = pages(sheet)
    for told in ("part's +Z side up", "grip 5", "parallels 40", "jaws 45", "opening 64", "Z stock 2", "Z done 0"):
        assert told in first
    assert "part's -Z side up" in second
    assert re.search(r"T2\s+endmill 10 mm\s+36\s+38\.25 short", first)  # it stands out 36
    assert not re.search(r"T1 .* short", first)
    assert "EN AW-6082 T6" in first
    assert re.search(r"30\s+bottom and side rough milling\s+T2\s+-12\s+35\.68 cm3", first)
    assert "drilling" not in first  # switched off


def test_a_failed_plan_must_not_be_run_by_its_sheet() -> None:
    assert all("DO NOT RUN" in page for page in pages(setup_sheet(document())))
    assert not any("DO NOT RUN" in page for page in pages(setup_sheet(document(findings=()))))


def test_findings_and_loose_pieces_stand_at_the_foot(sheet: bytes) -> None:
    first, second = pages(sheet)
    assert "error reach.stickout step 30, warning wall.thin step 30" in first
    assert "note hold.marked, a piece of 50 mm3 comes free" in second


def test_pictures_are_on_the_page(sheet: bytes) -> None:
    drawn, plain = (PdfReader(io.BytesIO(data)).pages[0] for data in (sheet, setup_sheet(document())))
    assert len(drawn.images) == 2
    assert len(plain.images) == 0


def test_lengths_are_in_inches_in_an_inch_plan() -> None:
    first = pages(setup_sheet(document("inch"), stage_meshes()[:1]))[0]
    for told in ("grip 0.1969", "jaws 1.7717", "lengths in in"):  # 5 / 25.4, 45 / 25.4
        assert told in first


def test_a_long_plan_goes_on_to_the_next_page() -> None:
    made = document()
    step = made["setups"][0]["workingsteps"][0]
    made["setups"][0]["workingsteps"] = [{**step, "id": str(i)} for i in range(90)]
    found = pages(setup_sheet(made, ()))
    assert len(found) > 2
    assert "continued on the next page" in found[0]
    assert all(re.search(rf"\b{i}\b", "".join(found)) for i in range(90))


def test_words_outside_the_fonts_alphabet_do_not_stop_it() -> None:
    first = pages(setup_sheet(document(name="Příruba \u4e2d ø20")))[0]
    assert "Príruba" in first.replace("ř", "r") or "Priruba" in first
    assert "ø20" in first


def test_the_same_report_gives_the_same_bytes(sheet: bytes) -> None:
    assert setup_sheet(document(), stage_meshes()) == sheet


def test_a_setup_without_steps_or_holding_still_has_its_page() -> None:
    made = document()
    made["setups"][0].pop("holding")
    made["setups"][0]["workingsteps"] = []
    assert "S1" in pages(setup_sheet(made, stage_meshes()[:1]))[0]


@pytest.mark.parametrize("step", [workingstep("10", "boring", "T1", 3.0)])
def test_a_step_without_a_depth_is_listed(step: dict[str, object]) -> None:
    made = document()
    made["setups"][0]["workingsteps"] = [{**step, "enabled": True}]
    assert "boring" in pages(setup_sheet(made))[0]


def test_room_below_has_its_column_where_a_tool_comes_through() -> None:
    made = document()
    made["setups"][0]["workingsteps"][1] |= {"room_below": 3.25, "body_below": "bed"}
    first, second = pages(setup_sheet(made))
    assert "3.25 bed" in first and "Room below" in first
    assert "Room below" not in second


def test_edges_are_broken_at_no_height_that_the_plan_fixes() -> None:
    made = document()
    made["setups"][1]["workingsteps"][0]["tip_z"] = 17.125
    assert "17.125" in pages(setup_sheet(made))[1]
    made["setups"][1]["workingsteps"][0]["operation"] = "edge_breaking"
    assert "17.125" not in pages(setup_sheet(made))[1]


def test_the_first_cautions_are_on_every_page_to_their_last_word() -> None:
    made = document()
    for page in pages(setup_sheet(made)):
        told = " ".join(page.split())
        assert all(caution in told for caution in made["cautions"][:2])


def test_findings_of_one_kind_are_counted_at_the_foot() -> None:
    made = document()
    made["findings"] += [f for f in made["findings"] if f["code"] == "hold.marked"]
    assert "note hold.marked (2)" in pages(setup_sheet(made))[1]


def test_a_least_stickout_is_rounded_so_that_it_serves() -> None:
    made = document()
    made["tools"][1] |= {"least_stickout": 38.2501, "stickout_margin": -2.2501}
    assert "38.26 short" in pages(setup_sheet(made))[0]
    made["tools"][1] |= {"least_stickout": 38.25, "stickout_margin": -2.25}
    assert "38.25 short" in pages(setup_sheet(made))[0]
