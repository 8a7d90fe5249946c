"""The two drawings of a setup sheet: the stock in its workholding from a corner, and an elevation with dimensions."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from schemas.base import Frame, Vec3
from worker.present import words
from worker.present.meshes import StageMesh
from worker.present.page.scene import MM_PER_UNIT
from worker.present.palette import LIGHT, rgb
from worker.present.picture import Paint, View, stage_shown, view_of
from worker.present.words import Document

if TYPE_CHECKING:
    from fpdf import FPDF

PIXELS_PER_MM = 5.5
"""Of the page: 140 dots an inch."""
ARROW = 1.7
"""Length of an arrow head, mm of the page."""
LETTER = 2.6
"""Height of an axis' letter, mm of the page."""
LEAST_AXIS = 4.0
"""An axis is shortened so far, to keep its letter in the picture, mm of the page."""
STOCK_WIDTH_AT = 5.0
"""Place of the width of the stock below the picture's upper edge, mm of the page."""


Box = tuple[float, float, float, float]
"""Left, top, width and height of a picture, mm of the page."""


@dataclass(frozen=True)
class Drawing:
    """A picture on the page: where points of the setup's frame (mm) fall on it."""

    pdf: FPDF
    view: View
    frame: Frame
    x: float
    y: float

    def at(self, point: Vec3) -> tuple[float, float]:
        """Page coordinates, mm."""
        across, down = self.view.place(self.frame.to_world(point))
        return self.x + across / PIXELS_PER_MM, self.y + down / PIXELS_PER_MM


def setup_frame(document: Document, setup: Document) -> Frame:
    """The setup's frame in mm."""
    scale = MM_PER_UNIT[document["units"]]
    origin = setup["origin"]
    location = tuple(c * scale for c in origin["location"])
    return Frame(location=location, axis=origin["axis"], ref_direction=origin["ref_direction"])


def corner_drawing(pdf: FPDF, document: Document, setup: Document, stage: StageMesh, box: Box, by: Paint) -> None:
    """From a corner, with the zero point and its axes."""
    drawing = _picture(pdf, setup_frame(document, setup), stage, box, (-58.0, 28.0), 0.88, by)
    reach = 0.17 * box[3] * PIXELS_PER_MM / drawing.view.pixels
    _zero(drawing)
    for name, end in (("X", (reach, 0.0, 0.0)), ("Y", (0.0, reach, 0.0)), ("Z", (0.0, 0.0, reach))):
        _axis(drawing, name, end, box[1])


def elevation_drawing(pdf: FPDF, document: Document, setup: Document, stage: StageMesh, box: Box, by: Paint) -> None:
    """Along the jaws, to scale, with grip, parallels, opening and heights above the zero point."""
    x, y, _, height = box
    holding = setup.get("holding", {})
    along_x = holding.get("jaw_axis") != "Y"
    look = (-90.0, 0.0) if along_x else (0.0, 0.0)
    drawing = _picture(pdf, setup_frame(document, setup), stage, box, look, 0.62, by)
    _zero(drawing)
    name = "X" if along_x else "Y"
    reach = 0.13 * height * PIXELS_PER_MM / drawing.view.pixels
    top = y + STOCK_WIDTH_AT if "stock_min" in holding else y
    _axis(drawing, name, (reach, 0.0, 0.0) if along_x else (0.0, reach, 0.0), top)
    _axis(drawing, "Z", (0.0, 0.0, reach), top)
    unit = "inches" if document["units"] == "inch" else "mm"
    told = f"to scale, lengths in {unit}, Z from the zero point, {name} to the right"
    _caption(pdf, x + 2, y + height - 2, told)
    if "stock_min" in holding:
        _dimensions(drawing, document, holding, 0 if along_x else 1, box)


def _picture(
    pdf: FPDF,
    frame: Frame,
    stage: StageMesh,
    box: Box,
    look: tuple[float, float],
    fill: float,
    by: Paint,
) -> Drawing:
    x, y, width, height = box
    shown = stage_shown(stage)
    size = (round(width * PIXELS_PER_MM), round(height * PIXELS_PER_MM))
    view = view_of(frame, [s.mesh for s in shown], *size, *look, fill=fill)
    pdf.image(io.BytesIO(by(shown, view)), x=x, y=y, w=width, h=height)
    pdf.set_draw_color(*rgb(LIGHT["rule"]))
    pdf.set_line_width(0.2)
    pdf.rect(x, y, width, height)
    return Drawing(pdf, view, frame, x, y)


def _zero(drawing: Drawing) -> None:
    """The zero point: a disc with two opposite quarters filled."""
    x, y = drawing.at((0.0, 0.0, 0.0))
    pdf, r = drawing.pdf, 1.5
    pdf.set_draw_color(*rgb(LIGHT["ink"]))
    pdf.set_line_width(0.3)
    pdf.set_fill_color(255, 255, 255)
    pdf.ellipse(x - r, y - r, 2 * r, 2 * r, style="DF")
    pdf.set_fill_color(*rgb(LIGHT["ink"]))
    for start in (0, 180):
        pdf.solid_arc(x - r, y - r, 2 * r, start, start + 90, b=2 * r, style="F")


def _axis(drawing: Drawing, name: str, end: Vec3, top: float) -> None:
    """An axis from the zero point, its letter below ``top`` (mm of the page) where there is room for that."""
    start, tip = drawing.at((0.0, 0.0, 0.0)), drawing.at(end)
    rise, room = start[1] - tip[1], (start[1] - top - LETTER) / 1.16
    if rise > max(room, LEAST_AXIS):
        share = max(room, LEAST_AXIS) / rise
        tip = (start[0] + share * (tip[0] - start[0]), start[1] - share * rise)
    if abs(tip[0] - start[0]) + abs(tip[1] - start[1]) < 2:
        return
    pdf = drawing.pdf
    pdf.set_draw_color(*rgb(LIGHT["ink"]))
    pdf.set_line_width(0.45)
    pdf.line(*start, *tip)
    _arrow(pdf, start, tip)
    pdf.set_font("Helvetica", "B", 10)
    pdf.set_text_color(*rgb(LIGHT["ink"]))
    away = [tip[i] + (tip[i] - start[i]) * 0.16 for i in (0, 1)]
    if rise > 0 and room < LEAST_AXIS:  # beside the tip: beyond it there is no room
        away = [tip[0] - LETTER, tip[1] + 1.0]
    pdf.text(away[0] - 1.1, away[1] + 1.2, name)


def _dimensions(drawing: Drawing, document: Document, holding: Document, across: int, box: Box) -> None:
    """Heights to the right and left of the stock, widths below and above it."""
    scale = MM_PER_UNIT[document["units"]]

    def place(side: float, z: float) -> tuple[float, float]:
        point = [0.0, 0.0, z * scale]
        point[across] = side * scale
        return drawing.at((point[0], point[1], point[2]))

    low, high = holding["stock_min"], holding["stock_max"]
    x, y, width, height = box
    right, left = x + width - 7, x + 9
    heights: list[tuple[str, float, float, float]] = [("stock", low[2], high[2], right)]
    if "jaw_top_z" in holding:
        heights += [("grip", holding["support_z"], holding["jaw_top_z"], left + 9)]
        heights += [("jaws", holding["bed_z"], holding["jaw_top_z"], left)]
    if holding.get("parallel_height"):
        heights += [("parallels", holding["bed_z"], holding["support_z"], left + 9)]
    sides = {at: high[across] if at == right else low[across] for _, _, _, at in heights}
    for _, z0, z1, at in heights:  # first all lines, so that none is drawn through another's words
        for end in (place(sides[at], z0), place(sides[at], z1)):
            _thin(drawing.pdf, end, (at, end[1]))
    for name, z0, z1, at in heights:
        told = f"{name} {words.bare_length(document, z1 - z0)}"
        _height(drawing.pdf, place(sides[at], z0)[1], place(sides[at], z1)[1], at, told, x + width)
    stock = f"stock {words.bare_length(document, high[across] - low[across])}"
    at = y + STOCK_WIDTH_AT
    _width(drawing.pdf, place(low[across], high[2]), place(high[across], high[2]), at, stock)
    if "jaw_low" in holding:
        faces = [place(holding[key], holding["bed_z"]) for key in ("jaw_low", "jaw_high")]
        opening = f"opening {words.bare_length(document, holding['opening'])}"
        _width(drawing.pdf, faces[0], faces[1], y + height - 6, opening)
    _levels(drawing.pdf, document, holding, place, (x + width - 16, high[across]))


def _levels(pdf: FPDF, document: Document, holding: Document, place: object, at: tuple[float, float]) -> None:
    """Z of the stock's top, of its support, and of its top when the setup is done."""
    levels = {"Z stock": holding.get("stock_top_z"), "Z done": holding.get("finished_top_z")}
    told: list[tuple[float, str]] = [
        (z, f"{name} {words.bare_length(document, z)}") for name, z in levels.items() if z is not None
    ]
    last = -1e9
    for z, text in sorted(told, key=lambda pair: -pair[0]):
        x, y = place(at[1], z)  # type: ignore[operator]
        pdf.set_draw_color(*rgb(LIGHT["soft"]))
        pdf.set_line_width(0.15)
        shown = max(y, last + 3.4)
        last = shown
        pdf.line(x + 0.5, y, at[0] - 14, shown)
        _label(pdf, at[0] - 13.5, shown + 1.0, text)


def _height(pdf: FPDF, low: float, high: float, x: float, told: str, edge: float) -> None:
    """A vertical dimension at ``x`` with its words turned; a short one has them beside it or, at the edge, below."""
    _double_arrow(pdf, (x, low), (x, high))
    middle = (low + high) / 2
    pdf.set_font("Helvetica", "", 8)
    long = pdf.get_string_width(told)
    if abs(low - high) < long + 2:
        outside = x + 1.2 + long > edge
        _label(pdf, edge - long - 1 if outside else x + 1.2, low + 4 if outside else middle + 1.0, told)
        return
    with pdf.rotation(90, x - 0.8, middle):
        _label(pdf, x - 0.8 - pdf.get_string_width(told) / 2, middle, told)


def _width(pdf: FPDF, left: tuple[float, float], right: tuple[float, float], y: float, told: str) -> None:
    _thin(pdf, left, (left[0], y))
    _thin(pdf, right, (right[0], y))
    _double_arrow(pdf, (left[0], y), (right[0], y))
    pdf.set_font("Helvetica", "", 8)
    _label(pdf, (left[0] + right[0] - pdf.get_string_width(told)) / 2, y - 0.9, told)


def _label(pdf: FPDF, x: float, y: float, told: str) -> None:
    """Words on a white ground, so that no line runs through them."""
    pdf.set_font("Helvetica", "", 8)
    pdf.set_fill_color(255, 255, 255)
    pdf.rect(x - 0.3, y - 2.5, pdf.get_string_width(told) + 0.6, 3.1, style="F")
    pdf.set_text_color(*rgb(LIGHT["ink"]))
    pdf.text(x, y, told)


def _caption(pdf: FPDF, x: float, y: float, told: str) -> None:
    pdf.set_font("Helvetica", "", 6.5)
    pdf.set_text_color(*rgb(LIGHT["soft"]))
    pdf.text(x, y, told)


def _thin(pdf: FPDF, start: Sequence[float], end: Sequence[float]) -> None:
    pdf.set_draw_color(*rgb(LIGHT["soft"]))
    pdf.set_line_width(0.12)
    pdf.line(start[0], start[1], end[0], end[1])


def _double_arrow(pdf: FPDF, start: tuple[float, float], end: tuple[float, float]) -> None:
    pdf.set_draw_color(*rgb(LIGHT["ink"]))
    pdf.set_line_width(0.25)
    pdf.line(*start, *end)
    _arrow(pdf, start, end)
    _arrow(pdf, end, start)


def _arrow(pdf: FPDF, start: tuple[float, float], tip: tuple[float, float]) -> None:
    dx, dy = tip[0] - start[0], tip[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5
    if length < 1e-9:
        return
    head = min(ARROW, length / 2)
    ux, uy = dx / length * head, dy / length * head
    pdf.set_fill_color(*rgb(LIGHT["ink"]))
    foot = (tip[0] - ux, tip[1] - uy)
    sides = [(foot[0] - s * uy, foot[1] + s * ux) for s in (0.28, -0.28)]
    pdf.polygon((tip, *sides), style="F")
