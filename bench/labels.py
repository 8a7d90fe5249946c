"""From the product's features to the labels of an open data set of milled cubes, face by face.

The labels count walls, tell slanted from square and through from blind, which the product's classes (ISO 14649-10) do
not; so the mapping looks at the planes of a feature's faces and at the edges between them as well. It lives in the
bench alone: the product knows nothing of these labels.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import combinations

from schemas.base import Vec3, cross, dot, norm
from schemas.feature import Feature
from worker.recognise.patches import PartShape

LABELS = (
    "chamfer",
    "triangular passage",
    "rectangular passage",
    "six-sided passage",
    "triangular through slot",
    "rectangular through slot",
    "rectangular through step",
    "two-sided through step",
    "slanted through step",
    "triangular pocket",
    "rectangular pocket",
    "six-sided pocket",
    "rectangular blind slot",
    "triangular blind step",
    "rectangular blind step",
    "stock",
)
STOCK = 15
SQUARE = 2e-3
"""Sine of the angle within which two directions are one, or square to each other."""
Frame3 = tuple[Vec3, ...]


def label_faces(features: Sequence[Feature], shape: PartShape) -> tuple[int, ...]:
    """The data set's label of every face."""
    frame = part_frame(features)
    found = [STOCK] * len(shape.of_face)
    for feature in features:
        label = label_of(feature, shape, frame)
        if label != STOCK:
            for face in feature.faces:
                found[face] = label
    return tuple(found)


def part_frame(features: Sequence[Feature]) -> Frame3:
    """The three square directions that carry most plane outer area."""
    areas: Counter[int] = Counter()
    axes: list[Vec3] = []
    for feature in features:
        if feature.class_ != "planar_face":
            continue
        axis = feature.placement.axis
        number = next((i for i, a in enumerate(axes) if norm(cross(a, axis)) < SQUARE), len(axes))
        if number == len(axes):
            axes.append(axis)
        areas[number] += int(1e6 * (feature.length or 0) * (feature.width or 0))
    frame: list[Vec3] = []
    for number, _ in areas.most_common():
        if all(abs(dot(axes[number], f)) < SQUARE for f in frame):
            frame.append(axes[number])
    return tuple(frame)


def label_of(feature: Feature, shape: PartShape, frame: Frame3) -> int:
    """The label of one feature's faces."""
    planes = _planes(feature.faces, shape)
    if feature.class_ in ("planar_face", "chamfer"):
        return 0 if any(_slanted(shape, p, frame) for p in planes) else STOCK
    if feature.class_ == "slot":
        if feature.bottom == "planar":
            return 5 if feature.ends == "open open" else 12
        return 4 if len(planes) == 2 else 7
    if feature.class_ == "step":
        return _step_label(shape, planes, frame)
    if feature.class_ == "open_pocket" and feature.bottom == "planar":
        return 12
    if feature.class_ == "closed_pocket" and feature.bottom == "planar":
        return {4: 9, 5: 10}.get(len(planes), 11)
    if feature.class_ in ("closed_pocket", "open_pocket"):
        return {3: 1, 4: 2}.get(len(planes), 3)
    return STOCK


def _planes(faces: Iterable[int], shape: PartShape) -> tuple[int, ...]:
    """One patch for each different plane that some faces lie on."""
    patches = sorted({shape.of_face[f] for f in faces})
    flat = [p for p in patches if shape.patches[p].surface.kind == "plane"]
    return tuple({shape.carriers[p]: p for p in flat[::-1]}.values())[::-1]


def _step_label(shape: PartShape, planes: tuple[int, ...], frame: Frame3) -> int:
    if len(planes) >= 3:
        normals = [shape.patches[p].surface.axis for p in planes]
        return 14 if all(abs(dot(a, b)) < SQUARE for a, b in combinations(normals, 2)) else 7
    if not any(_slanted(shape, p, frame) for p in planes):
        return 6
    return 8 if _runs_through(shape, planes) else 13


def _slanted(shape: PartShape, patch: int, frame: Frame3) -> bool:
    normal = shape.patches[patch].surface.axis
    return all(norm(cross(normal, f)) > SQUARE for f in frame)


def _runs_through(shape: PartShape, planes: tuple[int, ...]) -> bool:
    """True when the inner edge of a step ends on two sides of the part that look away from each other."""
    carriers = {shape.carriers[p] for p in planes}
    own = [p for p in shape.patches if shape.carriers[p.index] in carriers]
    inner = [r for p in own for r in p.rims if r.convexity == "concave" and shape.carriers[r.other] in carriers]
    met = Counter(v for edge in {r.edge: r for r in inner}.values() for v in (edge.start, edge.end))
    ends = {v for v, count in met.items() if count == 1}
    at: dict[int, set[int]] = {v: set() for v in ends}
    for patch in shape.patches:
        for rim in patch.rims:
            for v in ends & {rim.start, rim.end}:
                at[v].add(patch.index)
    beyond = [[shape.patches[p].surface.axis for p in at[v] if shape.carriers[p] not in carriers] for v in sorted(ends)]
    return any(dot(m, n) < -0.5 for a, b in combinations(beyond, 2) for m in a for n in b)
