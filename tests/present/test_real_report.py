"""A whole check of an example with page and sheet: the files hold together, and come out the same again."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.support.browser import browser, listen
from worker.job import JobResult, run_check

FOLDER = Path(__file__).resolve().parents[2] / "examples" / "pump_flange_inch"
EXTRAS = ("report.html", "setup-sheet.pdf")


def checked(**changes: float) -> JobResult:
    plan = json.loads((FOLDER / "plan.json").read_text())
    for id, stickout in changes.items():
        next(t for t in plan["tools"] if t["id"] == id)["stickout"] = stickout
    return run_check((FOLDER / "part.step").read_bytes(), json.dumps(plan).encode(), {}, extras=EXTRAS)


@pytest.fixture(scope="module")
def result() -> JobResult:
    """The side mill of the first setup stands out less than it must."""
    return checked(T2=1.0)


def test_the_sheet_has_a_page_for_each_setup(result: JobResult) -> None:
    report = json.loads(result.report)
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(result.extras["setup-sheet.pdf"])).pages]
    for setup in report["setups"]:
        assert any(p.startswith(setup["id"]) and setup["work_offset"] in p for p in pages)
        assert all(any(step["id"] in p for p in pages) for step in setup["workingsteps"])
    assert all("DO NOT RUN" in page for page in pages)


def test_the_estimate_is_in_the_report(result: JobResult) -> None:
    report = json.loads(result.report)
    setups = report["setups"]
    assert report["time"] == pytest.approx(sum(s["time"] for s in setups), abs=1e-3)
    for setup in setups:
        times = [step["time"] for step in setup["workingsteps"] if step["enabled"]]
        assert setup["time"] == pytest.approx(sum(t["total"] for t in times), abs=1e-3)
        assert all(t["estimate"] is True and t["assumptions"] for t in times)


def test_the_least_stickout_of_a_tool_is_its_hungriest_step(result: JobResult) -> None:
    report = json.loads(result.report)
    for tool in report["tools"]:
        steps = [s for setup in report["setups"] for s in setup["workingsteps"] if s["tool"] == tool["id"]]
        known = [s["least_stickout"] for s in steps if "least_stickout" in s]
        assert tool.get("least_stickout") == (max(known) if known else None)


def test_the_page_points_at_the_model(result: JobResult, tmp_path: Path) -> None:
    report = json.loads(result.report)
    (tmp_path / "report.html").write_bytes(result.extras["report.html"])
    index = next(i for i, f in enumerate(report["findings"]) if f["code"] == "reach.stickout")
    noise: list[str] = []
    with browser() as running:
        page = running.new_page(viewport={"width": 1280, "height": 900}, reduced_motion="reduce")
        listen(page, noise)
        page.goto((tmp_path / "report.html").as_uri())
        page.wait_for_selector("#model[data-ready=true]", timeout=30000)
        page.click(f"[data-show-finding='{index}']")
        page.wait_for_selector(".pin.chosen")
        assert page.text_content(".pin.chosen text") == "reach.stickout"
        assert _centre(page, ".pin.chosen .ring") == pytest.approx(_centre(page, "#model canvas"), abs=3)
    assert noise == []


def _centre(page: Any, selector: str) -> tuple[float, float]:
    box = page.locator(selector).bounding_box()
    return (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def test_it_comes_out_the_same_again(result: JobResult) -> None:
    again = checked(T2=1.0)
    assert again.report == result.report
    assert dict(again.extras) == dict(result.extras)
