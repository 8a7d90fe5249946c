"""Selectors to features, before any geometry is cut: what matches nothing, or another number, is refused."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from schemas.base import Vec3, dot, unit
from schemas.feature import Feature
from schemas.matching import on_axis
from schemas.plan import Setup, SetupPlan, Workingstep
from schemas.problem import Problem
from schemas.selector import Selector
from schemas.tolerances import ANGLE, LEDGE, LENGTH
from schemas.tool import Tool
from schemas.units import Units, units
from worker.stage.model import ResolvedStep
from worker.suited import as_cut, no_such_wall, suited, walls_left

OnFeature = Callable[[Feature, Vec3], bool]
"""Tells whether a point of the part's frame lies on or in a feature."""
Resolved = dict[str, tuple[ResolvedStep, ...]]
NAMED_CANDIDATES = 5


def resolve(
    plan: SetupPlan, features: tuple[Feature, ...], on_feature: OnFeature
) -> dict[str, tuple[ResolvedStep, ...]]:
    """Setup id to its enabled steps with tool and features.

    Raises Problem ``plan.selector`` with the JSON pointer of the selector and the nearest candidates, ``plan.invalid``
    where an operation does not make what is named.
    """
    return {setup.id: _setup_steps(plan, i, features, on_feature) for i, setup in enumerate(plan.setups)}


def _setup_steps(
    plan: SetupPlan, i: int, features: tuple[Feature, ...], on_feature: OnFeature
) -> tuple[ResolvedStep, ...]:
    setup = plan.setups[i]
    found = []
    for j, step in enumerate(setup.workingsteps):
        matcher = _Matcher(features, on_feature, setup, units(plan.units), f"/setups/{i}/workingsteps/{j}")
        tool = plan.tool(step.tool)
        chosen = matcher.of_step(step, tool)
        if step.enabled:
            found.append(ResolvedStep(j, step, tool, chosen))
    return tuple(found)


class _Matcher:
    """Resolves the selectors of one step; holds what every question needs."""

    def __init__(
        self, features: tuple[Feature, ...], on_feature: OnFeature, setup: Setup, out: Units, pointer: str
    ) -> None:
        self.features = features
        self.on_feature = on_feature
        self.axis = unit(setup.origin.axis)
        self.units = out
        self.step = pointer
        self.pointer = f"{pointer}/features"

    def of_step(self, step: Workingstep, tool: Tool) -> tuple[Feature, ...]:
        chosen: set[str] = set()
        for k, selector in enumerate(step.features):
            found = self._one(step, selector, f"{self.pointer}/{k}")
            meant = suited(step, tool, found, self.axis, f"{self.pointer}/{k}", of_any_class=_names_no_class(selector))
            chosen |= {f.id for f in meant}
        self._check_wall(step, tool, [f for f in self.features if f.id in chosen])
        return tuple(as_cut(step, f) for f in self.features if f.id in chosen)

    def _check_wall(self, step: Workingstep, tool: Tool, chosen: Sequence[Feature]) -> None:
        """A tool on a hole's axis leaves on its wall what its own size leaves: an allowance that says so is true."""
        if not step.allowance_side or not on_axis(step, tool):
            return
        own = {f.id: f for f in self.features}
        for feature in chosen:
            parts = [own[id] for id in feature.elements] or [feature]
            left = walls_left(tool, parts)
            if not any(abs(step.allowance_side - one) <= LEDGE for one in left):
                raise no_such_wall(step, tool, feature, left, f"{self.step}/allowance_side", self.units)

    def _one(self, step: Workingstep, selector: str | Selector, pointer: str) -> tuple[Feature, ...]:
        found = self._by_id(selector, pointer) if isinstance(selector, str) else self._by_keys(selector, pointer)
        for feature in found:
            if feature.class_ == "boss" and step.operation != "freeform_operation":
                raise _problem(
                    pointer,
                    f"'{feature.id}' is a boss, which is never cut itself.",
                    "Name the pocket, step or face that it stands in; freeform_operation follows what is round of it.",
                )
        return found

    def _by_id(self, id: str, pointer: str) -> tuple[Feature, ...]:
        found = tuple(f for f in self.features if f.id == id)
        if not found:
            near = sorted(self.features, key=lambda f: (_shared_prefix(f.id, id), f.id))[:NAMED_CANDIDATES]
            raise _problem(
                pointer, f"The part has no feature '{id}'.", f"Nearest: {', '.join(f.id for f in near) or 'none'}."
            )
        return found

    def _by_keys(self, selector: Selector, pointer: str) -> tuple[Feature, ...]:
        found = tuple(f for f in self.features if self._matches(f, selector))
        if selector.class_ is None and any(f.parent is None for f in found):
            found = tuple(f for f in found if f.parent is None)
        if not found:
            raise _problem(pointer, f"No feature matches {_written(selector, self.units)}.", self._nearest(selector))
        if selector.count is not None and len(found) != selector.count:
            names = ", ".join(_described(f, self.units) for f in found)
            raise _problem(
                pointer,
                f"{len(found)} features match, 'count' says {selector.count}: {names}.",
                "Correct 'count' or add keys to the selector.",
            )
        return found

    def _matches(self, feature: Feature, selector: Selector) -> bool:
        """All four, one after the other: with many steps and features this is asked of each pair."""
        return (
            self._class(feature, selector)
            and self._size(feature, selector)
            and self._direction(feature, selector)
            and self._place(feature, selector)
        )

    def _class(self, feature: Feature, selector: Selector) -> bool:
        return selector.class_ is None or feature.class_ == selector.class_

    def _size(self, feature: Feature, selector: Selector) -> bool:
        if selector.diameter is not None and not _same(feature.diameter, selector.diameter):
            return False
        if selector.depth_min is not None and (feature.depth or 0.0) < selector.depth_min - LENGTH:
            return False
        return selector.depth_max is None or (feature.depth or math.inf) <= selector.depth_max + LENGTH

    def _direction(self, feature: Feature, selector: Selector) -> bool:
        z = feature.placement.z
        if selector.normal is not None and not _parallel(z, unit(selector.normal), either_way=False):
            return False
        axis = selector.axis
        if axis is None and selector.class_ == "profile_feature":
            axis = self.axis
        return axis is None or _parallel(z, unit(axis), either_way=True)

    def _place(self, feature: Feature, selector: Selector) -> bool:
        return selector.at is None or self.on_feature(feature, selector.at)

    def _nearest(self, selector: Selector) -> str:
        ranked = sorted(self.features, key=lambda f: (self._distance(f, selector), f.id))[:NAMED_CANDIDATES]
        return f"Nearest: {'; '.join(_described(f, self.units) for f in ranked) or 'the part has no features'}."

    def _distance(self, feature: Feature, selector: Selector) -> tuple[int, float]:
        """Keys that fail, then how far the diameter is off."""
        failed = sum(not t(feature, selector) for t in (self._size, self._direction, self._place))
        other_class = 2 * (not self._class(feature, selector))
        off = abs((feature.diameter or math.inf) - selector.diameter) if selector.diameter is not None else 0.0
        return (failed + other_class, off)


_ALIGNED = math.cos(math.radians(ANGLE))
"""Cosine between directions that are taken for one."""


def _names_no_class(selector: str | Selector) -> bool:
    return isinstance(selector, Selector) and selector.class_ is None


def _same(value: float | None, wanted: float) -> bool:
    return value is not None and abs(value - wanted) <= LENGTH


def _parallel(a: Vec3, b: Vec3, *, either_way: bool) -> bool:
    cosine = dot(a, b)
    return (abs(cosine) if either_way else cosine) >= _ALIGNED


def _shared_prefix(a: str, b: str) -> int:
    """Minus the number of leading characters in common (for sorting: nearest first)."""
    shared = 0
    for p, q in zip(a, b, strict=False):
        if p != q:
            break
        shared += 1
    return -shared


def _described(feature: Feature, out: Units) -> str:
    size = f" ø{out.text(feature.diameter)}" if feature.diameter is not None else ""
    x, y, z = (out.number(c) for c in feature.placement.location)
    return f"{feature.id} ({feature.class_}{size} at {x}, {y}, {z})"


def _written(selector: Selector, out: Units) -> str:
    keys = selector.model_dump(exclude_none=True, by_alias=True)
    for name in ("diameter", "depth_min", "depth_max"):
        if name in keys:
            keys[name] = float(out.number(keys[name]))
    if "at" in keys:
        keys["at"] = [float(out.number(c)) for c in keys["at"]]
    return ", ".join(f"{key} {list(value) if isinstance(value, tuple) else value}" for key, value in keys.items())


def _problem(pointer: str, detail: str, remedy: str) -> Problem:
    return Problem("plan.selector", "A selector does not fit the part", detail, pointer=pointer, remedy=remedy)
