"""Parts whose features cut into each other, with the features that were put in: truth by construction.

Every scene draws sizes from dice, cuts its tools out of a block and states what a shop would list: class, a way that a
straight tool comes from, and those sizes that the crossing leaves as drawn. What a crossing makes doubtful is not
stated: the width of a stair under another, the depth of a hole with a slanting mouth, whether a chain of rounds is one.
Lengths in mm; the block stands on z = 0.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from OCP.BRep import BRep_Tool
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.TopoDS import TopoDS_Edge

from schemas.base import Frame, Vec3, add, any_frame, cross, scale
from schemas.feature import Feature, FeatureClass
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box, revolve_profile
from worker.kernel.shape import Body, edges, of_xyz, vertices

UP: Vec3 = (0.0, 0.0, 1.0)
BEYOND = 9.0
"""How far tools stand out of the block (mm)."""
CLOSE = 0.02
"""Sizes are found when they agree within this (mm, degrees)."""
Edge = Callable[[Vec3, Vec3], bool]


@dataclass(frozen=True)
class Wanted:
    """A feature that was put in. ``way``: all zero where no straight tool comes in.

    ``words``: bottom and ends, where the crossing leaves them as drawn. ``many``: true where one or more features may
    carry it.
    """

    class_: FeatureClass
    way: Vec3
    sizes: dict[str, float]
    words: dict[str, str] = field(default_factory=dict)
    many: bool = False

    def told_by(self, feature: Feature, aligned: bool = True) -> bool:
        """True when a feature of the part is the wanted one; its way counts where the part lies as drawn."""
        if feature.class_ != self.class_ or any(getattr(feature, k) != v for k, v in self.words.items()):
            return False
        seen = any(sum(a * b for a, b in zip(d, self.way, strict=True)) > 1 - 1e-6 for d in feature.access)
        seen = seen if any(self.way) else not feature.access
        return (seen or not aligned) and any(
            all((size := getattr(feature, k)) is not None and abs(size - v) < CLOSE for k, v in sizes.items())
            for sizes in (self.sizes, self._from_aside())
        )

    def _from_aside(self) -> dict[str, float]:
        """The sizes of a step seen from its other open side: what was its depth is its width."""
        if self.class_ != "step":
            return self.sizes
        other = {"depth": "width", "width": "depth"}
        return {other.get(k, k): v for k, v in self.sizes.items()}


@dataclass(frozen=True, eq=False)
class Crossed:
    """A made part and the features in it."""

    name: str
    body: Body
    wanted: tuple[Wanted, ...]


@dataclass(eq=False)
class Scene:
    """A block, the dice, and what is cut so far. ``seams``: where round faces begin."""

    size: Vec3
    dice: random.Random
    seams: random.Random
    tools: list[Body] = field(default_factory=list)
    wanted: list[Wanted] = field(default_factory=list)
    keep: list[Body] = field(default_factory=list)
    """What the tools go round."""
    stock: Body | None = None

    def between(self, low: float, high: float) -> float:
        """A drawn length with three decimals."""
        return round(self.dice.uniform(low, high), 3)

    def depths(self, count: int, low: float, high: float, apart: float = 1.0) -> list[float]:
        """Different depths, in any order."""
        step = (high - low) / count
        found = [low + i * step + self.dice.uniform(0.0, max(step - apart, 0.0)) for i in range(count)]
        self.dice.shuffle(found)
        return [round(d, 3) for d in found]

    def want(self, class_: FeatureClass, way: Vec3 = UP, *, many: bool = False, **facts: float | str) -> None:
        """State a feature: numbers are sizes, words are words."""
        sizes = {k: float(v) for k, v in facts.items() if not isinstance(v, str)}
        words = {k: v for k, v in facts.items() if isinstance(v, str)}
        self.wanted.append(Wanted(class_, way, sizes, words, many))

    def turned(self, at: Vec3, way: Vec3, *profile: tuple[float, float]) -> Body:
        """A round tool: (radius, height) pairs from its axis round to its axis again; its seam lies anywhere."""
        plain, angle = any_frame(at, way), self.seams.uniform(0.0, math.tau)
        ref = add(scale(plain.x, math.cos(angle)), cross(plain.z, plain.x), math.sin(angle))
        return revolve_profile(profile, Frame(location=at, axis=way, ref_direction=ref))

    def drill(
        self, at: Vec3, way: Vec3, diameter: float, depth: float, tip: float = 0.0, *, out: float = BEYOND
    ) -> None:
        """A hole of a depth under its mouth; ``tip``: included angle of the point (degrees), 0 for flat."""
        r = diameter / 2
        low = [(0.0, -depth - (r / math.tan(math.radians(tip / 2)) if tip else 0.0)), (r, -depth)]
        self.tools.append(self.turned(at, way, *low, (r, out), (0.0, out)))

    def mill(self, low: Vec3, high: Vec3, corner: float = 0.0, frame: Frame | None = None) -> Body:
        """A box with round upright corners, added to the tools."""
        body = box(low, high, frame)
        if corner:
            way = frame.z if frame else UP
            body = with_edges(body, corner, lambda a, b: _along(a, b, way))
        self.tools.append(body)
        return body

    def slot_x(self, y: float, width: float, depth: float) -> None:
        """A slot along the whole of x."""
        x, _, z = self.size
        self.mill((-BEYOND, y - width / 2, z - depth), (x + BEYOND, y + width / 2, z + BEYOND))
        self.want("slot", length=x, width=width, depth=depth, ends="open open")

    def slot_y(self, x: float, width: float, depth: float) -> None:
        """A slot along the whole of y."""
        _, y, z = self.size
        self.mill((x - width / 2, -BEYOND, z - depth), (x + width / 2, y + BEYOND, z + BEYOND))
        self.want("slot", length=y, width=width, depth=depth, ends="open open")

    def pocket(
        self, middle: tuple[float, float], sides: tuple[float, float], depth: float, corner: float = 0.0
    ) -> None:
        """A closed pocket from the top."""
        (x, y), (a, b), z = middle, sides, self.size[2]
        self.mill((x - a / 2, y - b / 2, z - depth), (x + a / 2, y + b / 2, z + BEYOND), corner)
        self.want("closed_pocket", length=max(a, b), width=min(a, b), depth=depth)

    def made(self) -> Body:
        """The block after all tools."""
        stock = self.stock or box((0.0, 0.0, 0.0), self.size)
        tools = self.tools if not self.keep else [cut(fuse(self.tools), self.keep)]
        return cut(stock, tools)


def with_edges(body: Body, radius: float, choose: Edge, *, straight: bool = False) -> Body:
    """The body with some edges rounded, or broken at 45 degrees."""
    builder = (BRepFilletAPI_MakeChamfer if straight else BRepFilletAPI_MakeFillet)(body.wrapped)
    for edge in edges(body.wrapped):
        if choose(*_ends(edge)):
            builder.Add(radius, edge)
    return Body(builder.Shape())


def _ends(edge: TopoDS_Edge) -> tuple[Vec3, Vec3]:
    found = [of_xyz(BRep_Tool.Pnt_s(v)) for v in vertices(edge)]
    return found[0], found[-1]


def _along(a: Vec3, b: Vec3, way: Vec3) -> bool:
    line = (b[0] - a[0], b[1] - a[1], b[2] - a[2])
    return max(abs(c) for c in cross(line, way)) < 1e-6 < max(abs(c) for c in line)


def judged(wanted: Sequence[Wanted], features: Sequence[Feature], aligned: bool = True) -> list[str]:
    """What differs from the truth, in words: nothing where all is found, each once, and nothing else."""
    parts = {e for f in features for e in f.elements}
    told = [f for f in features if f.class_ not in ("planar_face", "profile_feature") and f.id not in parts]
    fits = [[i for i, f in enumerate(told) if w.told_by(f, aligned)] for w in wanted]
    taken = _paired(fits)
    more = {i for w, found in zip(wanted, fits, strict=True) if w.many for i in found}
    missing = [w for i, w in enumerate(wanted) if i not in taken.values()]
    left = [f for i, f in enumerate(told) if i not in taken and i not in more]
    return [f"not found: {w.class_} {w.sizes} {w.words}" for w in missing] + [f"not put in: {_said(f)}" for f in left]


SIZES = (
    "diameter", "top_diameter", "length", "width", "depth", "height", "radius", "angle", "tip_angle", "planar_radius",
    "orthogonal_radius", "slope",
)  # fmt: skip
WORDS = ("class_", "bottom", "ends", "open_sides", "thread")


def altered(before: Sequence[Feature], after: Sequence[Feature]) -> list[str]:
    """Which features are not the same, one for one, once a part is written differently; wherever it lies."""
    fits = [[i for i, b in enumerate(after) if _alike(a, b)] for a in before]
    taken = _paired(fits)
    lost = [f for i, f in enumerate(before) if i not in taken.values()]
    return [f"lost: {_said(f)}" for f in lost] + [f"new: {_said(f)}" for i, f in enumerate(after) if i not in taken]


def _alike(a: Feature, b: Feature) -> bool:
    if any(getattr(a, w) != getattr(b, w) for w in WORDS):
        return False
    if any(len(getattr(a, k)) != len(getattr(b, k)) for k in ("access", "elements", "bosses")):
        return False
    pairs = [(getattr(a, k), getattr(b, k)) for k in SIZES]
    return all((p is None) == (q is None) and abs((p or 0.0) - (q or 0.0)) < CLOSE for p, q in pairs)


def _paired(fits: Sequence[Sequence[int]]) -> dict[int, int]:
    """Which wanted feature each told one stands for, with as many pairs as there can be (augmenting paths)."""
    taken: dict[int, int] = {}

    def found(want: int, tried: set[int]) -> bool:
        for one in fits[want]:
            if one not in tried:
                tried.add(one)
                if one not in taken or found(taken[one], tried):
                    taken[one] = want
                    return True
        return False

    for want in range(len(fits)):
        found(want, set())
    return taken


def _said(feature: Feature) -> str:
    names = ("diameter", "top_diameter", "length", "width", "depth", "height", "radius", "bottom", "ends")
    facts = ((n, getattr(feature, n)) for n in names)
    said = (f"{n} {v:.3f}" if isinstance(v, float) else f"{n} {v}" for n, v in facts if v is not None)
    return f"{feature.id} ({', '.join(said)}, {len(feature.access)} ways)"
