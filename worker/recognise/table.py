"""The features of a part as a table that is read at a glance."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Literal

from schemas.base import Vec3
from schemas.feature import Feature
from schemas.units import MM_PER_INCH

HEADINGS = ("id", "class", "size", "depth", "position", "cut from", "remarks")


def feature_table(features: Iterable[Feature], units: Literal["mm", "inch"] = "mm") -> str:
    """One line a feature: id, class, size, depth, position of its placement and the directions it is cut from.

    Lengths are printed in ``units``; a compound's elements stand indented under it.
    """
    rows = [_row(feature, indent, units) for feature, indent in _ordered(tuple(features))]
    widths = [max(len(r[i]) for r in [HEADINGS, *rows]) for i in range(len(HEADINGS))]
    lines = [HEADINGS, tuple("-" * w for w in widths), *rows]
    return "\n".join("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip() for line in lines) + "\n"


def _ordered(features: Sequence[Feature]) -> list[tuple[Feature, int]]:
    by_id = {f.id: f for f in features}
    found: list[tuple[Feature, int]] = []
    for feature in features:
        if feature.parent in by_id:
            continue
        found.append((feature, 0))
        found += [(by_id[c], 1) for c in (*feature.elements, *feature.bosses) if c in by_id]
    return found


def _row(feature: Feature, indent: int, units: str) -> tuple[str, ...]:
    scale = MM_PER_INCH if units == "inch" else 1.0
    return (
        "  " * indent + feature.id,
        feature.class_,
        _size(feature, scale),
        _depth(feature, scale),
        " ".join(_number(v / scale) for v in feature.placement.location),
        _cut_from(feature.access),
        _remarks(feature, scale),
    )


def _cut_from(access: Sequence[Vec3]) -> str:
    """Directions along the part's axes first, then the others, counted where there are more than two."""
    named = [direction_name(d) for d in access]
    straight, tilted = ([n for n in named if n.startswith("(") is lies] for lies in (False, True))
    if len(tilted) > (0 if straight else 2):
        tilted = [f"{len(tilted)} tilted"]
    return ", ".join((*straight, *tilted)) or "nowhere"


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _size(feature: Feature, scale: float) -> str:
    def n(value: float | None) -> str:
        return _number((value or 0.0) / scale)

    if feature.class_ == "edge_round":
        return f"R{n(feature.radius)}"
    if feature.class_ == "chamfer":
        return f"{n(feature.depth)} x {_number(feature.angle or 0)}°"
    if feature.top_diameter is not None and feature.diameter is not None and feature.top_diameter != feature.diameter:
        return f"ø{n(feature.diameter)} / ø{n(feature.top_diameter)}"
    if feature.class_ == "slot" and feature.diameter is not None:
        return f"{n(feature.width)} on ø{n(feature.diameter)}"
    if feature.diameter is not None and feature.top_diameter is not None and feature.angle and feature.depth:
        narrow = feature.top_diameter - 2 * feature.depth * math.tan(math.radians(feature.angle) / 2)
        return f"ø{n(narrow)} / ø{n(feature.top_diameter)}"
    if feature.diameter is not None:
        return f"ø{n(feature.diameter)}"
    if feature.length is not None and feature.width is not None:
        return f"{n(feature.length)} x {n(feature.width)}"
    return n(feature.width) if feature.width is not None and feature.ends == "loop" else ""


def _depth(feature: Feature, scale: float) -> str:
    if feature.class_ == "chamfer":
        return ""
    deep = feature.depth if feature.depth is not None else feature.height
    if deep == 0 and feature.diameter and feature.tip_angle:
        deep = feature.diameter / 2 / math.tan(math.radians(feature.tip_angle) / 2)
    text = _number(deep / scale) if deep is not None else ""
    return f"{text} through" if feature.bottom == "through" else text


def _remarks(feature: Feature, scale: float) -> str:
    found = []
    if feature.thread:
        found.append(f"thread {feature.thread}")
    if feature.bottom not in (None, "through", "planar"):
        tip = f" {_number(feature.tip_angle)}°" if feature.tip_angle else ""
        found.append(f"bottom {feature.bottom.replace('_', ' ')}{tip}")
    if feature.class_ == "countersunk_hole" and feature.angle:
        found.append(f"countersink {_number(feature.angle)}°")
    if feature.ends:
        found.append(f"ends {feature.ends.replace(' ', ', ')}")
    elif feature.open_sides:
        found.append(f"{feature.open_sides} open side{'s' if feature.open_sides > 1 else ''}")
    if feature.orthogonal_radius is not None and (feature.class_ != "slot" or feature.course_of_travel == "general"):
        found.append(f"corners R{_number(feature.orthogonal_radius / scale)}")
    if feature.planar_radius is not None:
        found.append(f"floor R{_number(feature.planar_radius / scale)}")
    if feature.bosses:
        found.append(f"{len(feature.bosses)} island{'s' if len(feature.bosses) > 1 else ''}")
    if feature.pattern:
        found.append(f"pattern {feature.pattern}")
    if feature.undercut:
        found.append(f"undercut: {feature.undercut}")
    return "; ".join(found)


def direction_name(direction: Vec3) -> str:
    """ "+Z" for an axis of the part, else its components."""
    for axis, name in enumerate("XYZ"):
        if abs(abs(direction[axis]) - 1.0) < 1e-6:
            return ("+" if direction[axis] > 0 else "-") + name
    return "(" + " ".join(_number(c) for c in direction) + ")"
