"""The part from two opposite corners with its features numbered, and the list that the numbers stand for."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.base import Frame, dot
from schemas.feature import HOLES, Feature
from schemas.units import Units
from worker.present.meshes import Mesh
from worker.present.palette import MODEL
from worker.present.picture import Shown, View, faces_seen, paint, view_of

WIDTH, HEIGHT = 560, 520
"""Pixels of one view, its margins for the numbers included."""
FILL = 0.74
LINE, TEXT = 17, 12
"""Height of a line of the list and of its letters, pixels."""
BALL = 10
FROM_ABOVE, FROM_BELOW = (-58.0, 28.0), (122.0, -28.0)
"""Azimuth and elevation of the two views, degrees."""
Point = tuple[float, float]
"""Pixels from the left and from the top."""


@dataclass(frozen=True)
class Mark:
    """A number in a ball at ``ball``, its leader to ``tip`` (pixels of the whole sheet)."""

    number: int
    ball: tuple[float, float]
    tip: tuple[float, float]


@dataclass(frozen=True)
class Sheet:
    """The drawn parts of the picture: two painted views side by side, marks, lines of the list."""

    width: int
    height: int
    views: tuple[bytes, ...]
    marks: tuple[Mark, ...]
    lines: tuple[str, ...]


def numbered_sheet(mesh: Mesh, features: Sequence[Feature], out: Units) -> Sheet:
    """The sheet of a part; elements stand under their compound's number. ``mesh`` carries face numbers."""
    listed = [f for f in features if f.parent is None or f.class_ == "boss"]
    views = tuple(view_of(Frame(), [mesh], WIDTH, HEIGHT, a, e, FILL) for a, e in (FROM_ABOVE, FROM_BELOW))
    seen = [faces_seen(mesh, view) for view in views]
    tips: list[list[tuple[int, tuple[float, float]]]] = [[], []]
    for number, feature in enumerate(listed, start=1):
        side, tip = _tip(feature, views, seen)
        tips[side].append((number, tip))
    marks = [m for side in (0, 1) for m in _spread(tips[side], side * WIDTH)]
    lines = tuple(f"{i:>3}  {f.id}   {_size(f, out)}" for i, f in enumerate(listed, start=1))
    painted = tuple(paint([Shown(mesh, MODEL["part"])], view) for view in views)
    rows = -(-len(lines) // 2)
    return Sheet(2 * WIDTH, HEIGHT + LINE * (rows + 2), painted, tuple(sorted(marks, key=lambda m: m.number)), lines)


def _tip(feature: Feature, views: Sequence[View], seen: Sequence[NDArray[np.int64]]) -> tuple[int, Point]:
    """In which view a feature is pointed at, and where: a hole at its mouth, another where most of it is seen."""
    better = _better_view(feature, views)
    spots = {} if feature.class_ in HOLES else {side: _middle(seen[side], feature) for side in (better, 1 - better)}
    found = next(((side, spot) for side, spot in spots.items() if spot is not None), None)
    return found or (better, views[better].place(feature.placement.location))


def _middle(seen: NDArray[np.int64], feature: Feature) -> Point | None:
    """The pixel deepest within what is seen of the feature's faces; None where nothing of them is seen."""
    own = np.isin(seen, feature.faces)
    if not own.any():
        return None
    rows, columns = np.flatnonzero(own.any(axis=1)), np.flatnonzero(own.any(axis=0))
    left = np.pad(own[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], 1)
    while left.any():
        last, inner = left, left.copy()
        inner[1:-1, 1:-1] &= left[:-2, 1:-1] & left[2:, 1:-1] & left[1:-1, :-2] & left[1:-1, 2:]
        left = inner
    row, column = np.argwhere(last)[int(last.sum()) // 2]
    return float(columns[0] + column - 1) + 0.5, float(rows[0] + row - 1) + 0.5


def _better_view(feature: Feature, views: Sequence[View]) -> int:
    """The view that looks more against the feature's own +Z."""
    facing = [round(dot(feature.placement.z, view.toward), 6) for view in views]
    return int(facing[1] > facing[0])


def _spread(tips: Sequence[tuple[int, tuple[float, float]]], left: int) -> list[Mark]:
    """Balls in two columns, one on each side of the view, in the order of their tips: no leader crosses another."""
    found: list[Mark] = []
    ordered = sorted(tips, key=lambda t: (t[1][0], t[1][1]))
    half = -(-len(ordered) // 2)
    for column, x in ((ordered[:half], BALL + 6), (ordered[half:], WIDTH - BALL - 6)):
        ranked = sorted(column, key=lambda t: (t[1][1], t[0]))
        pitch = (HEIGHT - 2 * BALL - 12) / max(len(ranked), 1)
        for place, (number, tip) in enumerate(ranked):
            ball = (left + x, BALL + 6 + pitch * (place + 0.5))
            found.append(Mark(number, ball, (left + tip[0], tip[1])))
    return found


def _size(feature: Feature, out: Units) -> str:
    sizes = {"dia ": feature.diameter, "length ": feature.length, "width ": feature.width, "depth ": feature.depth}
    return "  ".join(f"{word}{out.text(value)}" for word, value in sizes.items() if value is not None)


def sheet_svg(sheet: Sheet) -> bytes:
    """The sheet as SVG 1.1: the views painted, numbers and list as text."""
    ink = "#1d2731"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{sheet.width}" height="{sheet.height}" '
        f'viewBox="0 0 {sheet.width} {sheet.height}" font-family="monospace" font-size="{TEXT}" fill="{ink}">',
        '<rect width="100%" height="100%" fill="#ffffff"/>',
    ]
    for side, picture in enumerate(sheet.views):
        data = base64.b64encode(picture).decode()
        parts.append(
            f'<image x="{side * WIDTH}" y="0" width="{WIDTH}" height="{HEIGHT}" href="data:image/png;base64,{data}"/>'
        )
    parts += [_mark_svg(mark, ink) for mark in sheet.marks]
    for text, (x, y) in zip(sheet.lines, _places(sheet), strict=True):
        parts.append(f'<text x="{x}" y="{y}" xml:space="preserve">{text}</text>')
    return "\n".join([*parts, "</svg>\n"]).encode()


def _mark_svg(mark: Mark, ink: str) -> str:
    (x, y), (u, v) = mark.ball, mark.tip
    return (
        f'<path d="M{x:.1f} {y:.1f}L{u:.1f} {v:.1f}" stroke="{ink}" stroke-width="0.8"/>'
        f'<circle cx="{u:.1f}" cy="{v:.1f}" r="2.2"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{BALL}" fill="#ffffff" stroke="{ink}"/>'
        f'<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle">{mark.number}</text>'
    )


def _places(sheet: Sheet) -> list[tuple[int, int]]:
    """Where each line of the list stands: two columns under the views."""
    rows = -(-len(sheet.lines) // 2)
    return [(20 + WIDTH * (i // rows), HEIGHT + LINE * (i % rows + 2)) for i in range(len(sheet.lines))]


def sheet_png(sheet: Sheet) -> bytes:
    """The same sheet as PNG."""
    import io

    from PIL import Image, ImageDraw, ImageFont

    from worker.present.picture import INK, png

    canvas = Image.new("RGB", (sheet.width, sheet.height), "white")
    for side, picture in enumerate(sheet.views):
        canvas.paste(Image.open(io.BytesIO(picture)), (side * WIDTH, 0))
    draw, font = ImageDraw.Draw(canvas), ImageFont.load_default(TEXT)
    for mark in sheet.marks:
        (x, y), (u, v) = mark.ball, mark.tip
        draw.line((x, y, u, v), fill=INK)
        draw.ellipse((u - 2, v - 2, u + 2, v + 2), fill=INK)
        draw.ellipse((x - BALL, y - BALL, x + BALL, y + BALL), fill="white", outline=INK)
        draw.text((x, y), str(mark.number), fill=INK, font=font, anchor="mm")
    for text, (x, y) in zip(sheet.lines, _places(sheet), strict=True):
        draw.text((x, y), text, fill=INK, font=font, anchor="ls")
    return png(np.asarray(canvas, np.uint8))
