"""Names of features, derived from where and what they are, never from the order of faces."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from schemas.base import Frame, Vec3, dot
from schemas.feature import Feature, FeatureClass
from schemas.tolerances import ID_STEP, ID_TURN
from worker.recognise.patches import PartShape

SHIFT = 0.3819660112501052
"""Where the steps lie: no dimension anybody draws, in mm or inch, falls on such a border."""


@dataclass(eq=False)
class Draft:
    """A feature before it has a name. ``key`` holds the numbers the name comes from; ``elements`` its holes."""

    class_: FeatureClass
    patches: tuple[int, ...]
    placement: Frame
    access: tuple[Vec3, ...] = ()
    sizes: dict[str, Any] = field(default_factory=dict)
    elements: list[Draft] = field(default_factory=list)
    bosses: list[Draft] = field(default_factory=list)
    key: tuple[float, ...] | None = None


def step_of(value: float, step: float = ID_STEP) -> int:
    """The number of the step a value falls in."""
    return math.floor(value / step + SHIFT)


def signature(draft: Draft) -> str:
    """Four hexadecimal digits from class, place and main size."""
    place = draft.key if draft.key is not None else draft.placement.location
    numbers = [step_of(v) for v in place]
    numbers += [step_of(v, ID_TURN) for v in draft.placement.axis]
    for name in ("diameter", "top_diameter", "width", "length", "radius"):
        value = draft.sizes.get(name)
        if value is not None and draft.key is None:
            numbers.append(step_of(value))
    text = draft.class_ + ":" + ",".join(map(str, numbers))
    return hashlib.sha256(text.encode()).hexdigest()[:4]


def order_of(draft: Draft) -> tuple[Any, ...]:
    """A sorting key from geometry alone: class, direction, place, sizes."""
    where = draft.placement
    sizes = tuple(round(draft.sizes.get(n) or 0.0, 3) for n in ("diameter", "depth", "width", "length", "radius"))
    place = tuple(round(v, 3) for v in where.location)
    lie = tuple(round(-abs(v), 4) for v in where.ref_direction), tuple(round(-v, 4) for v in where.ref_direction)
    return (draft.class_, tuple(round(-v, 4) for v in where.axis), tuple(-v for v in place[::-1]), sizes, lie)


def named(drafts: Iterable[Draft], shape: PartShape) -> tuple[Feature, ...]:
    """The drafts as features with unique ids, in geometric order."""
    ordered = sorted(drafts, key=order_of)
    names: dict[int, str] = {}
    taken: dict[str, int] = {}
    for draft in ordered:
        name = f"{draft.class_}-{signature(draft)}"
        taken[name] = taken.get(name, 0) + 1
        names[id(draft)] = name if taken[name] == 1 else f"{name}-{taken[name]}"
    parents = {id(child): names[id(d)] for d in ordered for child in (*d.elements, *d.bosses)}
    return tuple(_feature(draft, names, parents, shape) for draft in ordered)


def in_order(access: Iterable[Vec3], axis: Vec3) -> tuple[Vec3, ...]:
    """Directions in an order that geometry alone decides: the placement's own first, then upper ones first."""

    def key(d: Vec3) -> tuple[float, ...]:
        return (-round(dot(d, axis), 6), -round(d[2], 6), -round(d[1], 6), -round(d[0], 6))

    return tuple(sorted(access, key=key))


def _feature(draft: Draft, names: dict[int, str], parents: dict[int, str], shape: PartShape) -> Feature:
    return Feature(
        id=names[id(draft)],
        class_=draft.class_,
        faces=shape.faces(draft.patches),
        placement=draft.placement,
        access=in_order(draft.access, draft.placement.axis),
        elements=tuple(names[id(e)] for e in draft.elements),
        bosses=tuple(names[id(b)] for b in draft.bosses),
        parent=parents.get(id(draft)),
        **draft.sizes,
    )


def upright(direction: Vec3) -> tuple[float, float, float]:
    """Order of preference between two opposite directions: up, else back, else right."""
    return (round(direction[2], 6), round(direction[1], 6), round(direction[0], 6))
