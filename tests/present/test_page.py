"""The page as bytes: self-contained, escaped, deterministic; and its colours for readers who see fewer of them."""

import base64
import itertools
import json
import re
import zlib
from html.parser import HTMLParser

import numpy as np
import pytest

from tests.support.documents import FINDINGS, STICKOUT, document
from tests.support.solids import box_mesh, part_mesh, stage_meshes
from worker.present import palette
from worker.present.page import report_page
from worker.present.page.scene import embedded, scene_of

VOID = {"meta", "img", "input", "br", "link", "path", "circle"}


class Outline(HTMLParser):
    """Elements opened and closed in order, and what they load."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.loads: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        self.loads += [v for k, v in attrs if k in ("src", "href", "action", "srcset") and v and v[0] != "#"]
        self.ids += [v for k, v in attrs if k == "id" and v]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def outline(page: str) -> Outline:
    parser = Outline()
    parser.feed(page)
    parser.close()
    return parser


@pytest.mark.parametrize("stages", [(), stage_meshes()])
def test_the_page_is_well_formed_and_loads_nothing(stages: tuple[object, ...]) -> None:
    page = report_page(document(), part_mesh(), stages)  # type: ignore[arg-type]
    found = outline(page)
    assert found.open == []
    assert found.loads == []
    assert len(found.ids) == len(set(found.ids))
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", page)


def test_pictures_come_along_as_data() -> None:
    page = report_page(document(), pictures={"S1": b"\x89PNG"})
    assert outline(page).loads == ["data:image/png;base64," + base64.b64encode(b"\x89PNG").decode()]


def test_words_of_the_plan_cannot_become_markup() -> None:
    evil = "</script><script>alert(1)</script><img src=x onerror=alert(2)>"
    odd = STICKOUT.model_copy(update={"message": evil, "features": (evil,)})
    page = report_page(document(findings=(odd,), name=evil), part_mesh(), stage_meshes())
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert outline(page).open == []
    assert json.loads(embedded({"name": evil})) == {"name": evil}


def test_the_same_report_gives_the_same_page() -> None:
    first, second = (report_page(document(), part_mesh(), stage_meshes()) for _ in range(2))
    assert first == second


def test_verdict_then_findings_gravest_first() -> None:
    page = report_page(document(findings=tuple(reversed(FINDINGS))))
    places = [
        page.index(word) for word in ("The plan fails", "left.feature", "reach.stickout", "wall.thin", "hold.marked")
    ]
    assert places == sorted(places)
    assert page.index("To mend it") < page.index("Setup S1</span>")


def test_meshes_are_packed_once_and_to_a_few_micrometres() -> None:
    scene, text = scene_of(document(), part_mesh(), stage_meshes())
    first, second = scene["setups"]
    carried = {b["mesh"] for b in first["bodies"] if b["kind"] == "to_be"}
    assert carried == {b["mesh"] for b in second["bodies"] if b["kind"] == "as_is"}
    block = zlib.decompress(base64.b64decode(text))
    entry = scene["meshes"][scene["part"]]
    grid = np.frombuffer(block, "<u2", entry["v"][1] * 3, entry["v"][0]).reshape(-1, 3)
    at = np.array(scene["grid"]["origin"]) + grid * np.array(scene["grid"]["step"])
    assert at.min(axis=0) == pytest.approx([0, 0, 0], abs=3e-3)
    assert at.max(axis=0) == pytest.approx([100, 60, 30], abs=3e-3)
    assert max(scene["grid"]["step"]) < 3e-3


def test_places_are_in_mm_whatever_the_plan_is_written_in() -> None:
    stages = stage_meshes()
    inch, mm = (scene_of(document(units), part_mesh(), stages)[0] for units in ("inch", "mm"))
    assert inch["findings"][0]["at"] == pytest.approx(mm["findings"][0]["at"], abs=1e-4)
    assert inch["setups"][0]["origin"]["location"] == pytest.approx([0, 0, 30], abs=1e-4)


def test_an_empty_body_is_left_out() -> None:
    scene, _ = scene_of(document(), None, stage_meshes()[:1])
    assert scene["part"] is None
    assert len(scene["setups"][0]["bodies"]) == 8


# Colours. Simulation of red- and green-blindness: Vienot, Brettel and Mollon 1999 (linear RGB, from the paper).
RED_BLIND = np.array([[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]])
GREEN_BLIND = np.array([[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]])


def linear(colour: str) -> np.ndarray:
    """Linear light of an sRGB colour (IEC 61966-2-1)."""
    c = np.array(palette.rgb(colour)) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(light: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (D65) of linear sRGB."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ np.clip(
        light, 0, 1
    )
    t = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("seen_as", [np.eye(3), RED_BLIND, GREEN_BLIND], ids=["all", "red-blind", "green-blind"])
def test_model_colours_stay_apart(seen_as: np.ndarray) -> None:
    for (a, first), (b, second) in itertools.combinations(palette.MODEL.items(), 2):
        apart = np.linalg.norm(lab(seen_as @ linear(first)) - lab(seen_as @ linear(second)))
        assert apart > 20, f"{a} and {b} are {apart:.1f} apart"  # 2.3 is just noticeable; 20 is plain


@pytest.mark.parametrize("scheme", [palette.LIGHT, palette.DARK], ids=["light", "dark"])
def test_words_stand_out_from_what_they_stand_on(scheme: dict[str, str]) -> None:
    # WCAG 2.2, 1.4.3: 4.5 to 1 for text
    def contrast(a: str, b: str) -> float:
        la, lb = (float(linear(scheme[c]) @ [0.2126, 0.7152, 0.0722]) for c in (a, b))
        return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)

    on = [
        (word, ground)
        for word in ("ink", "soft", "accent", "error", "warning", "note")
        for ground in ("paper", "sheet")
    ]
    on += [(level, f"{level}-tint") for level in ("error", "warning", "note", "pass")]
    for word, ground in [*on, ("ink", "pass-tint"), ("ink", "view-top"), ("ink", "view-bottom")]:
        assert contrast(word, ground) >= 4.5, f"{word} on {ground}: {contrast(word, ground):.2f}"


def test_a_box_mesh_is_closed_and_faces_outward() -> None:
    made = box_mesh((0, 0, 0), (1, 2, 3))
    at = np.frombuffer(made.vertices, "<f4").reshape(-1, 3)[np.frombuffer(made.triangles, "<u4").reshape(-1, 3)]
    assert np.einsum("ij,ij->i", at[:, 0], np.cross(at[:, 1], at[:, 2])).sum() / 6 == pytest.approx(6.0)


def test_room_below_and_the_method_of_a_setup_that_was_not_cut_exactly() -> None:
    made = document()
    made["setups"][0]["workingsteps"][1] |= {"room_below": 3.25, "body_below": "<bed>"}
    made["evidence"]["methods"] = [{"setup": "S1", "method": "exact solids"}, {"setup": "S2", "method": "meshes"}]
    page = report_page(made)
    assert page.count("Room below, mm") == 1 and "<td>3.25 &lt;bed&gt;</td>" in page
    assert "S2 was not cut exactly: meshes" in page and "S1 was not" not in page


def test_the_material_stands_in_the_title_block_and_is_left_out_where_the_plan_names_none() -> None:
    made = document()
    assert "<dt>Material</dt><dd>0.479 kg, EN AW-6082 T6</dd>" in report_page(made)
    del made["part"]["material"]
    assert "<dt>Mass</dt><dd>0.479 kg</dd>" in report_page(made)


def test_many_findings_can_be_shown_by_their_code() -> None:
    few, many = document(), document()
    many["findings"] = few["findings"] * 4
    assert 'class="kinds"' not in report_page(few)
    page = report_page(many)
    codes = [f["code"] for f in few["findings"]]
    for code in set(codes):
        level = next(f["level"] for f in few["findings"] if f["code"] == code)
        button = f'data-kind="{code}"><i class="mark {level}" aria-hidden="true"></i><code>{code}</code>'
        assert f"{button}<span>{4 * codes.count(code)}</span>" in page
        assert page.count(f'data-of-kind="{code}"') == 4 * codes.count(code)
