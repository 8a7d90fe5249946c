"""What a rule is made of: its declaration, what it reads (``Context``), what it yields (``Draft`` or ``Skip``).

A rule is a pure function. It never cuts, never writes and never decides its own level: policy does that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, TypeVar

from schemas.base import Vec3
from schemas.feature import Feature
from schemas.finding import CATALOGUE, Level, QuantityUnit, Remedy
from schemas.plan import SetupPlan
from schemas.problem import json_pointer
from schemas.tool import Tool
from schemas.units import Units, units
from worker.checks.metal_needs import Metal
from worker.facts import Finish
from worker.part import Part
from worker.stage.model import Cut, Stage

T = TypeVar("T")
Scope = Literal["plan", "stage", "cut"]


@dataclass(frozen=True)
class Limit:
    """A threshold of a rule: ``name`` is its key in the plan's ``policy.limits``, ``default`` in ``unit``.

    ``source`` says where the default comes from: a standard or handbook, "common practice", "from memory".
    """

    name: str
    default: float
    unit: QuantityUnit
    source: str


@dataclass(frozen=True)
class Skip:
    """The rule does not apply here, and why; reports list it, so that an unrun rule is never taken for a pass."""

    reason: str


@dataclass(frozen=True)
class Draft:
    """A finding before policy: lengths in mm, ``at`` in the part's frame.

    ``stage`` and ``cut`` are filled in from the rule's scope; a plan rule gives them itself. ``level`` only where
    this occurrence is milder than the code usually is.
    """

    message: str
    features: tuple[str, ...] = ()
    measured: float | None = None
    limit: float | None = None
    unit: QuantityUnit | None = None
    at: Vec3 | None = None
    remedy: Remedy | None = None
    stage: Stage | None = None
    cut: Cut | None = None
    level: Level | None = None


Yields = Iterable[Draft | Skip]


@dataclass(frozen=True)
class Missing:
    """A fact that several ``rules`` read and that could not be computed: ``what``, why, and where (ids; None: plan)."""

    what: str
    detail: str
    rules: tuple[str, ...]
    setup: str | None = None
    workingstep: str | None = None


@dataclass(frozen=True)
class Rule:
    """A declared rule. ``check`` takes (context), (context, stage) or (context, stage, cut) by ``scope``.

    ``because_of`` names codes whose finding on the same step (or setup, or feature) explains this one: then this
    one is not told again. ``metal`` is what it looks at; ``facets`` says that it also judges metal whose round faces
    are flats.
    """

    code: str
    title: str
    level: Level
    scope: Scope
    why: str
    reference: str
    limits: tuple[Limit, ...]
    because_of: tuple[str, ...]
    metal: Metal
    facets: bool
    check: Callable[..., Yields]


def rule(
    code: str,
    *,
    scope: Scope,
    why: str,
    reference: str,
    limits: Sequence[Limit] = (),
    because_of: Sequence[str] = (),
    metal: Metal = "end",
    facets: bool = False,
    title: str | None = None,
    level: Level | None = None,
) -> Callable[[Callable[..., Yields]], Rule]:
    """Declare a rule. A code of the catalogue brings title and level; a shop's own code must state them.
    ``metal`` and ``facets`` default to what asks most: all metal known to the end, with its true faces.

    Raises ValueError for a code that has neither.
    """
    entry = CATALOGUE.get(code)
    if entry is None and (title is None or level is None):
        raise ValueError(f"rule '{code}' is not in the catalogue: state its title and level")
    known_title, known_level = (entry.title, entry.level) if entry else ("", "error")

    def declare(check: Callable[..., Yields]) -> Rule:
        return Rule(
            code=code,
            title=title or known_title,
            level=level or known_level,
            scope=scope,
            why=why,
            reference=reference,
            limits=tuple(limits),
            because_of=tuple(because_of),
            metal=metal,
            facets=facets,
            check=check,
        )

    return declare


@dataclass(frozen=True)
class Context:
    """All that rules read: the plan (mm), the part, the cut stages in order, shared facts, resolved limits.

    ``reach`` maps (setup id, step id) to that step's reach result; ``extras`` carries results of other rooms by name.
    ``missing`` are facts that could not be computed, with the rules that then say nothing. ``memory`` keeps what
    :meth:`once` computed.
    """

    plan: SetupPlan
    part: Part
    stages: tuple[Stage, ...]
    finish: Finish
    reach: Mapping[tuple[str, str], Any] = field(default_factory=dict)
    limits: Mapping[str, float] = field(default_factory=dict)
    extras: Mapping[str, Any] = field(default_factory=dict)
    missing: tuple[Missing, ...] = ()
    memory: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    def once(self, key: str, compute: Callable[[], T]) -> T:
        """The value of ``compute``, computed at the first call with this key: facts that several rules share."""
        if key not in self.memory:
            self.memory[key] = compute()
        value: T = self.memory[key]
        return value

    @cached_property
    def units(self) -> Units:
        """The plan's units, for messages."""
        return units(self.plan.units)

    def text(self, mm: float) -> str:
        """A length in the plan's units, with its symbol."""
        return self.units.text(mm)

    def limit(self, name: str) -> float:
        """The resolved threshold of that name, in its own unit (lengths mm)."""
        return self.limits[name]

    @cached_property
    def sequence(self) -> tuple[tuple[Stage, Cut], ...]:
        """Every enabled step of the plan in the order of machining."""
        return tuple((stage, cut) for stage in self.stages for cut in stage.cuts)

    def later(self, cut: Cut) -> tuple[tuple[Stage, Cut], ...]:
        """The steps after this one, later setups included."""
        return self.sequence[self.position(cut) + 1 :]

    def earlier(self, cut: Cut) -> tuple[tuple[Stage, Cut], ...]:
        """The steps before this one, earlier setups included."""
        return self.sequence[: self.position(cut)]

    def position(self, cut: Cut) -> int:
        """The step's place in the order of machining."""
        return self._positions[id(cut)]

    @cached_property
    def _positions(self) -> Mapping[int, int]:
        return {id(cut): place for place, (_, cut) in enumerate(self.sequence)}

    def number(self, stage: Stage) -> int:
        """The position of the stage's setup in the plan."""
        return next(i for i, setup in enumerate(self.plan.setups) if setup.id == stage.setup.id)

    def of_setup(self, stage: Stage, *path: str | int) -> str:
        """JSON pointer below the stage's setup."""
        return json_pointer(("setups", self.number(stage), *path))

    def of_step(self, stage: Stage, cut: Cut, *path: str | int) -> str:
        """JSON pointer below the workingstep (disabled steps count)."""
        return self.of_setup(stage, "workingsteps", cut.index, *path)

    def of_tool(self, tool: Tool, *path: str | int) -> str:
        """JSON pointer below the tool."""
        number = next(i for i, other in enumerate(self.plan.tools) if other.id == tool.id)
        return json_pointer(("tools", number, *path))

    def family(self, id: str) -> frozenset[str]:
        """The feature, its compound and that compound's elements: steps on one of them work on the same hole."""
        feature = self.part.feature(id)
        top = self.part.feature(feature.parent) if feature.parent and _is_compound(self, feature) else feature
        return frozenset((top.id, *top.elements))


def _is_compound(context: Context, feature: Feature) -> bool:
    """True when the feature is an element of its parent (and not a boss standing in it)."""
    return feature.parent is not None and feature.id in context.part.feature(feature.parent).elements
