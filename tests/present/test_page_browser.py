"""The page in a real headless browser: it loads from disk, turns, cuts, jumps from finding to place, and is silent."""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from tests.support.browser import browser, listen
from tests.support.documents import document
from tests.support.solids import part_mesh, stage_meshes
from worker.present.page import report_page

PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 2, "is_mobile": True, "has_touch": True}
DESK = {"viewport": {"width": 1440, "height": 900}, "reduced_motion": "reduce"}
Opened = Callable[..., Any]


@pytest.fixture(scope="module")
def running() -> Iterator[Any]:
    with browser() as made:
        yield made


@pytest.fixture
def opened(running: Any, tmp_path: Path) -> Iterator[Opened]:
    """Opens a page from disk; at the end nothing may have been asked of a network or written to the console."""
    noise: list[str] = []
    contexts: list[Any] = []

    def open_(html: str, **options: Any) -> Any:
        path = tmp_path / "report.html"
        path.write_text(html, encoding="utf-8")
        context = running.new_context(**{**DESK, **options})
        contexts.append(context)
        page = context.new_page()
        listen(page, noise)
        page.on("request", lambda request: None if request.url.startswith("file:") else noise.append(request.url))
        page.goto(path.as_uri())
        return page

    yield open_
    for context in contexts:
        context.close()
    assert noise == []


def with_model() -> str:
    return report_page(document(), part_mesh(), stage_meshes())


def ready(page: Any) -> Any:
    page.wait_for_selector("#model[data-ready=true]", timeout=15000)
    until(page, "frames", lambda frames: frames > 0)
    return page


def until(page: Any, name: str, holds: Callable[[float], bool]) -> None:
    """Wait until a number that the viewer tells about itself holds (the page's policy lets no test code in)."""
    for _ in range(100):
        if holds(float(page.get_attribute("#model", f"data-{name}") or 0)):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"{name} is {page.get_attribute('#model', f'data-{name}')}")


def picture(page: Any) -> bytes:
    page.wait_for_timeout(120)
    return bytes(page.locator("#model canvas").screenshot())


def test_it_loads_and_draws(opened: Opened) -> None:
    page = ready(opened(with_model()))
    assert page.title() == "FAIL - valve body, two setups"
    seen = np.asarray(Image.open(io.BytesIO(picture(page))).convert("RGB")).astype(int)
    colours = np.count_nonzero((seen[..., 0] > 120) & (seen[..., 2] < seen[..., 0] * 0.7))
    assert colours > 10000  # the stock covers a good part of the view


def test_dragging_turns_it(opened: Opened) -> None:
    page = ready(opened(with_model()))
    before, azimuth = picture(page), page.get_attribute("#model", "data-azimuth")
    box = page.locator("#model canvas").bounding_box()
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 200, steps=4)
    page.mouse.up()
    assert picture(page) != before
    # 100 pixels at 0.009 rad each, against the hand
    turned = float(azimuth) - float(page.get_attribute("#model", "data-azimuth"))
    assert turned == pytest.approx(0.9, abs=0.02)


def test_keys_and_buttons_turn_it(opened: Opened) -> None:
    page = ready(opened(with_model()))
    page.focus("#model canvas")
    page.keyboard.press("ArrowUp")
    until(page, "elevation", lambda e: e == pytest.approx(math.radians(28) + 0.12, abs=1e-3))
    page.click("[data-look='-90 90']")
    until(page, "elevation", lambda e: e == pytest.approx(math.pi / 2, abs=1e-3))


def test_a_finding_jumps_to_its_place(opened: Opened) -> None:
    page = ready(opened(with_model()))
    page.click("[data-show-finding='0']")
    page.wait_for_selector(".pin.chosen")
    assert page.text_content(".pin.chosen text") == "reach.stickout"
    pin, view = (page.locator(s).bounding_box() for s in (".pin.chosen .ring", "#model canvas"))
    middle = [pin[k] + pin[s] / 2 - view[k] - view[s] / 2 for k, s in (("x", "width"), ("y", "height"))]
    assert middle == pytest.approx([0, 0], abs=3)  # the place is brought to the middle of the view
    assert page.locator("#finding-0").get_attribute("class").endswith("chosen-row")


def test_a_finding_of_another_setup_brings_that_setup(opened: Opened) -> None:
    page = ready(opened(with_model()))
    assert page.get_attribute("#model", "data-setup") == "S1"
    page.click("[data-show-finding='2']")
    assert page.get_attribute("#model", "data-setup") == "S2"
    assert page.get_attribute("[data-setup-tab=S2]", "aria-pressed") == "true"


def test_a_place_on_the_model_leads_back_to_its_finding(opened: Opened) -> None:
    page = ready(opened(with_model()))
    page.locator(".pin.warning").click()
    assert page.locator("#finding-1").get_attribute("class").endswith("chosen-row")


def test_bodies_can_be_switched(opened: Opened) -> None:
    page = ready(opened(with_model()))
    seen = [picture(page)]
    for layer, how in (("to_be", "see-through"), ("part", "solid"), ("workholding", "off"), ("as_is", "solid")):
        page.click(f"[data-layer={layer}]")
        assert page.text_content(f"[data-layer={layer}] .how") == how
        seen.append(picture(page))
    assert len(set(seen)) == len(seen)


def test_a_section_is_cut_and_placed(opened: Opened) -> None:
    page = ready(opened(with_model()))
    whole = picture(page)
    page.select_option("#section-axis", "1")
    assert page.text_content("#section-told") == "Y 30.0 mm"  # the middle of the stock from -2 to 62
    cut = picture(page)
    page.fill("#section-share", "250")
    assert page.text_content("#section-told") == "Y 14.0 mm"
    assert len({whole, cut, picture(page)}) == 3


def test_a_step_shows_what_it_removes(opened: Opened) -> None:
    page = ready(opened(with_model()))
    before = picture(page)
    page.click("#setup-S1 [data-show-step] >> nth=1")
    assert page.text_content("[data-layer=removal] .how") == "solid"
    assert picture(page) != before


def test_inch_sections_are_told_in_inches(opened: Opened) -> None:
    page = ready(opened(report_page(document("inch"), part_mesh(), stage_meshes())))
    page.select_option("#section-axis", "1")
    assert page.text_content("#section-told") == "Y 1.181 in"  # 30 / 25.4


def test_light_and_dark(opened: Opened) -> None:
    page = ready(opened(with_model(), color_scheme="dark"))
    ground = "() => getComputedStyle(document.documentElement).backgroundColor"
    assert page.evaluate(ground) == "rgb(18, 24, 30)"
    page.click("#theme")
    assert page.evaluate(ground) == "rgb(244, 241, 233)"


def test_a_phone_needs_no_sideways_scrolling(opened: Opened) -> None:
    page = ready(opened(with_model(), **PHONE))
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
    page.tap("[data-show-finding='0']")
    page.wait_for_selector(".pin.chosen")
    assert page.locator("#model canvas").bounding_box()["y"] >= 0


def test_it_prints_with_pictures_and_no_controls(opened: Opened) -> None:
    from tests.support.pictures import TINY_PNG

    page = ready(opened(report_page(document(), part_mesh(), stage_meshes(), {"S1": TINY_PNG, "S2": TINY_PNG})))
    page.emulate_media(media="print")
    assert not page.is_visible("#model")
    assert page.is_visible("img.still >> nth=0")
    assert page.is_visible("#finding-0 .mend")
    assert page.pdf()[:4] == b"%PDF"


def test_without_meshes_the_text_still_stands(opened: Opened) -> None:
    page = opened(report_page(document()))
    assert page.locator("#model").count() == 0
    assert page.is_visible("#finding-0")
    assert not page.is_visible("[data-show-finding='0']")


def test_a_broken_model_is_said_and_the_text_stands(opened: Opened) -> None:
    html = with_model()
    start = html.index('id="meshes">') + len('id="meshes">')
    page = opened(html[:start] + "AAAA" + html[start + 4 :])
    page.wait_for_selector("#no-model:not([hidden])")
    assert not page.is_visible("#model")
    assert page.is_visible("#finding-0")


def test_it_runs_under_the_services_own_policy(running: Any) -> None:
    """Served with the header that the service sends for pages: scripts run, without the service's origin."""
    from service.checks.files import PAGE_POLICY

    context = running.new_context(**DESK)
    page = context.new_page()
    noise: list[str] = []
    listen(page, noise)
    answer = {"body": with_model(), "content_type": "text/html", "headers": {"Content-Security-Policy": PAGE_POLICY}}
    page.route("**/*", lambda route: route.fulfill(**answer))
    page.goto("http://service.example/v1/checks/1/report.html")
    ready(page)
    assert page.evaluate("() => self.origin") == "null"
    page.click("[data-show-finding='0']")
    page.wait_for_selector(".pin.chosen")
    context.close()
    assert noise == []


def test_one_kind_of_finding_is_shown_alone_and_a_jump_brings_all_back(opened: Opened) -> None:
    made = document()
    made["findings"] = made["findings"] * 4
    page = ready(opened(report_page(made, part_mesh(), stage_meshes())))
    code = made["findings"][0]["code"]
    page.click(f"[data-kind='{code}']")
    shown = page.locator(".finding:visible")
    assert {shown.nth(i).get_attribute("data-of-kind") for i in range(shown.count())} == {code}
    other = next(i for i, f in enumerate(made["findings"]) if f["code"] != code and f.get("setup"))
    setup = made["findings"][other]["setup"]
    page.locator(f"#setup-{setup} .links a[href='#finding-{other}']").click()
    assert page.locator(".finding:visible").count() == len(made["findings"])
    page.click(f"[data-kind='{code}']")
    page.click(f"[data-kind='{code}']")
    assert page.locator(".finding:visible").count() == len(made["findings"])


def test_no_table_of_a_setup_is_cut_off_on_a_desk(opened: Opened) -> None:
    page = ready(opened(with_model(), viewport={"width": 1280, "height": 900}))
    wide = page.locator(".setup .wide")
    for i in range(wide.count()):
        width, room = wide.nth(i).evaluate("e => [e.scrollWidth, e.clientWidth]")
        assert width <= room
