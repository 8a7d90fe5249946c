"""The setup sheet: a page for each setup, to pin to the machine. PDF, A4 landscape; same report, same bytes."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from worker.present import words
from worker.present.meshes import StageMesh
from worker.present.palette import LIGHT, rgb
from worker.present.picture import Paint, paint
from worker.present.sheet_drawing import corner_drawing, elevation_drawing
from worker.present.words import Document

if TYPE_CHECKING:
    from fpdf import FPDF

WIDTH, HEIGHT, MARGIN = 297.0, 210.0, 9.0
"""A4 landscape (ISO 216), mm."""
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
"""Stands for the time of making: a report says nothing of when it was made."""
STEP_COLUMNS = (("Step", 11), ("Operation", 47), ("Tool", 12), ("Tip at Z", 17), ("Removes", 21), ("Cuts", 58))
THROUGH_COLUMNS = (
    *STEP_COLUMNS[:1],
    ("Operation", 42),
    *STEP_COLUMNS[2:4],
    ("Room below", 22),
    ("Removes", 19),
    ("Cuts", 44),
)
"""Columns of a setup in which a tool comes through."""
TOOL_COLUMNS = (("Tool", 12), ("What it is", 58), ("Stick-out", 17), ("Least", 20))
PICTURES_TOP, FACTS_HEIGHT, FOOT_HEIGHT = 26.0, 27.0, 17.0
LEAST_PICTURE, LARGEST_PICTURE = 50.0, 84.0
"""Pictures shrink so far, to keep a setup on its page."""
ROW = 4.3


def setup_sheet(document: Document, stages: Sequence[StageMesh] = (), by: Paint = paint) -> bytes:
    """The sheet of the report document. ``stages`` give the pictures, drawn ``by``; without stages there are none."""
    from fpdf import FPDF

    pdf = FPDF(orientation="landscape", unit="mm", format="A4")
    pdf.set_creation_date(EPOCH)
    pdf.set_title(_latin(f"Setup sheet - {document.get('name', 'setup plan')}"))
    pdf.set_auto_page_break(False)
    pdf.set_margins(MARGIN, MARGIN)
    pictures = {stage.setup: stage for stage in stages}
    for setup in document["setups"]:
        _page(pdf, document, setup, pictures.get(setup["id"]), by)
    return bytes(pdf.output())


def _page(pdf: FPDF, document: Document, setup: Document, stage: StageMesh | None, by: Paint) -> None:
    _head(pdf, document, setup)
    steps, tools = _rows(document, setup)
    top = PICTURES_TOP
    if stage is not None:
        height = _picture_height(max(len(steps), len(tools)))
        corner_drawing(pdf, document, setup, stage, (MARGIN, top, 128.0, height), by)
        room = (MARGIN + 132, top, WIDTH - 2 * MARGIN - 132, height)
        elevation_drawing(pdf, document, setup, stage, room, by)
        top += height + 2
    _facts(pdf, document, setup, top)
    _tables(pdf, document, setup, top + FACTS_HEIGHT, steps, tools)
    _foot(pdf, document, setup)


def _picture_height(rows: int) -> float:
    room = HEIGHT - MARGIN - FOOT_HEIGHT - PICTURES_TOP - 2 - FACTS_HEIGHT - (rows + 1.5) * ROW
    return min(max(room, LEAST_PICTURE), LARGEST_PICTURE)


def _head(pdf: FPDF, document: Document, setup: Document) -> None:
    """Which setup, which offset, and whether the plan passed at all."""
    pdf.add_page()
    failed = document["verdict"] == "fail"
    _fill(pdf, "ink")
    pdf.rect(MARGIN, MARGIN, WIDTH - 2 * MARGIN, 14, style="F")
    _write(pdf, MARGIN + 4, MARGIN + 1.2, f"{setup['id']}  {setup.get('name', '')}", 18, "B", "sheet", 180)
    _write(pdf, MARGIN + 4, MARGIN + 9, document.get("name", ""), 8.5, "", "sheet", 180)
    if failed:
        _fill(pdf, "error")
        pdf.rect(WIDTH - MARGIN - 78, MARGIN, 50, 14, style="F")
        _write(pdf, WIDTH - MARGIN - 75, MARGIN + 1.8, "DO NOT RUN", 14, "B", "sheet")
        _write(pdf, WIDTH - MARGIN - 75, MARGIN + 8, f"the plan fails: {words.counts(document)}", 7, "", "sheet", 46)
    _write(pdf, WIDTH - MARGIN - 26, MARGIN + 2.2, setup.get("work_offset", ""), 20, "B", "sheet")


def _facts(pdf: FPDF, document: Document, setup: Document, top: float) -> None:
    """Two rows of what the operator needs before the first chip."""
    up, along = (words.direction(setup["origin"][key]) for key in ("axis", "ref_direction"))
    pairs = (
        ("Up", f"part's {up} side up, X along the part's {along}"),
        ("Held by", setup["workholding"]),
        ("Stock", words.comma((_stock(document, setup["as_is"]), *words.material(document)))),
        ("Leave", _stock(document, setup["to_be"])),
        ("Time, estimate", words.duration(setup["time"]) if "time" in setup else "not estimated"),
        ("Instructions", setup.get("instructions", "none")),
    )
    width = (WIDTH - 2 * MARGIN) / 3
    for i, (name, told) in enumerate(pairs):
        x, y = MARGIN + (i % 3) * width, top + (i // 3) * 13
        _line(pdf, x, y, x + width - 3, y)
        _write(pdf, x, y + 0.8, name, 7, "", "soft")
        for line, part in enumerate(_two_lines(pdf, told, width - 4)):
            _write(pdf, x, y + 4 + line * 3.7, part, 8.5, "B", "ink", width - 4)


def _two_lines(pdf: FPDF, told: str, width: float) -> list[str]:
    """Words broken once, where the first line is full."""
    pdf.set_font("Helvetica", "B", 8.5)
    first, *rest = _broken(pdf, told, width)
    return [first, " ".join(rest)] if rest else [first]


def _broken(pdf: FPDF, told: str, width: float) -> list[str]:
    """Words in lines of this width, in the font that is set."""
    lines = [""]
    for word in _latin(told).split(" "):
        longer = f"{lines[-1]} {word}".lstrip()
        if lines[-1] and pdf.get_string_width(longer) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


Rows = list[tuple[str, ...]]


def _rows(document: Document, setup: Document) -> tuple[Rows, Rows]:
    """Cells of the steps and of the tools they use."""
    enabled = [step for step in setup["workingsteps"] if step["enabled"]]
    used = {step["tool"] for step in enabled}
    tools = [_tool_cells(document, tool) for tool in document.get("tools", ()) if tool["id"] in used]
    through = words.comes_through(setup)
    return [_step_cells(document, step, through) for step in enabled], tools


def _columns(setup: Document) -> tuple[tuple[str, int], ...]:
    return THROUGH_COLUMNS if words.comes_through(setup) else STEP_COLUMNS


def _tables(pdf: FPDF, document: Document, setup: Document, top: float, steps: Rows, tools: Rows) -> None:
    """Steps on the left and tools on the right; what does not fit goes on to another page."""
    right = WIDTH - MARGIN - sum(w for _, w in TOOL_COLUMNS)
    while True:
        fit = int((HEIGHT - MARGIN - FOOT_HEIGHT - top) / ROW - 1.3)
        _table(pdf, _columns(setup), steps[:fit], MARGIN, top)
        _table(pdf, TOOL_COLUMNS, tools[:fit], right, top)
        steps, tools = steps[fit:], tools[fit:]
        if not steps and not tools:
            return
        _write(pdf, MARGIN, HEIGHT - MARGIN - FOOT_HEIGHT + 0.5, "continued on the next page", 8, "B", "error")
        _foot(pdf, document, setup)
        _head(pdf, document, setup)
        top = 28.0


def _step_cells(document: Document, step: Document, through: bool) -> tuple[str, ...]:
    heights = (words.tip(document, step), *((words.room_below(document, step),) if through else ()))
    features = words.comma(step["features"]) or words.comma(step.get("reached", ()))
    operation = step["operation"].replace("_", " ")
    return (step["id"], operation, step["tool"], *heights, words.volume(document, step.get("removal")), features)


def _tool_cells(document: Document, tool: Document) -> tuple[str, ...]:
    least = words.least(document, tool) if "least_stickout" in tool else "-"
    least += " short" if tool.get("stickout_margin", 0.0) < 0 else ""
    return (tool["id"], words.cutter(document, tool), words.bare_length(document, tool["stickout"]), least)


def _table(pdf: FPDF, columns: Sequence[tuple[str, int]], rows: Sequence[Sequence[str]], x: float, y: float) -> None:
    if not rows:
        return
    end = x + sum(width for _, width in columns)
    at = x
    for name, width in columns:
        _write(pdf, at, y, name, 7, "", "soft")
        at += width
    _line(pdf, x, y + 4.1, end, y + 4.1, 0.5)
    for i, row in enumerate(rows):
        at, top = x, y + 4.6 + i * ROW
        for (_, width), cell in zip(columns, row, strict=True):
            _write(pdf, at, top, cell, 8, "", "ink", width - 1.5)
            at += width
        _line(pdf, x, top + ROW - 0.5, end, top + ROW - 0.5, 0.1, "rule")


def _foot(pdf: FPDF, document: Document, setup: Document) -> None:
    """What was found in this setup, what comes free, and the first of the cautions."""
    y = HEIGHT - MARGIN - 12
    _line(pdf, MARGIN, y, WIDTH - MARGIN, y, 0.5)
    found = words.findings_of(document, setup["id"])
    each = [f"{f['level']} {f['code']}" + (f" step {f['workingstep']}" if "workingstep" in f else "") for f in found]
    told = [line if (n := each.count(line)) == 1 else f"{line} ({n})" for line in dict.fromkeys(each)]
    loose = setup.get("loose", ())
    told += [f"a piece of {words.volume(document, lump['volume'])} comes free" for lump in loose]
    _write(pdf, MARGIN, y + 0.8, words.comma(told) or "No findings in this setup.", 8, "B", _gravest(found),
           WIDTH - 2 * MARGIN)  # fmt: skip
    pdf.set_font("Helvetica", "", 6.2)
    width = WIDTH - 2 * MARGIN - 14
    cautions = [line for caution in document["cautions"][:2] for line in _broken(pdf, caution, width)]
    for i, line in enumerate(cautions):
        _write(pdf, MARGIN, y + 4.6 + i * 2.6, line, 6.2, "", "soft", width)
    _write(pdf, WIDTH - MARGIN - 12, y + 8, f"page {pdf.page_no()}", 7, "", "soft")


def _gravest(found: Sequence[Document]) -> str:
    return str(found[0]["level"]) if found else "pass"


def _stock(document: Document, stock: Document) -> str:
    parts = [words.sizes(document, stock["bounding_box"])] if "bounding_box" in stock else []
    parts += [f"{words.number(stock['mass'])} kg"] if "mass" in stock else [words.volume(document, stock.get("volume"))]
    parts += [words.count(stock["solids"], "solid")] if stock.get("solids", 1) != 1 else []
    return words.comma(parts)


def _write(
    pdf: FPDF, x: float, y: float, told: Any, size: float, style: Any, colour: str, width: float | None = None
) -> None:
    """Words with their upper left corner there; shortened to ``width``."""
    pdf.set_font("Helvetica", style, size)
    pdf.set_text_color(*rgb(LIGHT[colour]))
    line = _latin(str(told))
    if width is not None and pdf.get_string_width(line) > width:
        while line and pdf.get_string_width(line + "...") > width:
            line = line[:-1]
        line = line.rstrip(" ,") + "..."
    pdf.text(x, y + size * 0.3528 * 0.8, line)


def _line(pdf: FPDF, x: float, y: float, to_x: float, to_y: float, width: float = 0.2, colour: str = "ink") -> None:
    pdf.set_draw_color(*rgb(LIGHT[colour]))
    pdf.set_line_width(width)
    pdf.line(x, y, to_x, to_y)


def _fill(pdf: FPDF, colour: str) -> None:
    pdf.set_fill_color(*rgb(LIGHT[colour]))


def _latin(told: str) -> str:
    """Words in the alphabet of the PDF's built-in fonts: accents kept where it has them, dropped where not."""
    try:
        told.encode("latin-1")
        return told
    except UnicodeEncodeError:
        plain = unicodedata.normalize("NFKD", told)
        return plain.encode("latin-1", "replace").decode("latin-1").replace("?", "") or "?"
