"""One step's cut, by the first way that gives a sound result: exact solids, then meshes; else nothing is cut.

Once a stock is faceted it is carried on by meshes: flats that lie in round walls are what exact booleans fail at.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from schemas.tolerances import BALANCE, FACETS
from worker.kernel import boolean, measure
from worker.kernel.attempts import aside
from worker.kernel.errors import KernelError
from worker.kernel.faceted import faceted
from worker.kernel.journal import note
from worker.kernel.meshes import Mesh, mesh_of, split_by
from worker.kernel.shape import EMPTY, Body, compound, faces, is_empty, solids
from worker.stage.standing import UNKNOWN, Standing

MANY_FACES = 40
"""Faces of a level that has a border of many arcs."""
MOST_PAIRS = 100_000
"""Pairs of faces in such levels of one step that are compared at once: at 600,000 a split ran for minutes, where all
are round a boolean at 230,000."""


@dataclass(frozen=True)
class Taken:
    """What a step takes and what the stock is worth after it; ``fault`` is why it was not cut like the steps before.

    ``meshes``: meshes gave the metal after such a fault.
    """

    removal: Body
    volume: float
    standing: Standing
    fault: str = ""
    meshes: bool = False


class Metal:
    """A stock that steps are cut from, one after the other. After a fault that no way mends nothing more is cut."""

    def __init__(self, body: Body, standing: Standing) -> None:
        self.standing = standing
        self._body: Body | None = body
        self._mesh = mesh_of(body, FACETS) if standing.facets else None
        self._inherited = standing.doubt

    @property
    def body(self) -> Body:
        """The solids that stand; made only when asked for where meshes carry the metal."""
        if self._body is None:
            assert self._mesh is not None  # one of the two always is
            self._body = faceted(self._mesh.solid)
        return self._body

    @property
    def is_made(self) -> bool:
        """Whether the solids are at hand."""
        return self._body is not None

    def take(self, tools: Sequence[Body]) -> Taken:
        """Cut by one step's solids, by the first way that works."""
        present = [tool for tool in tools if not is_empty(tool)]
        if not present or not self.standing.known:
            return Taken(EMPTY, 0.0, self.standing)
        fault = ""
        if self._mesh is None:
            try:
                return self._exactly(present)
            except KernelError as error:
                fault = error.detail or error.step
        return self._by_meshes(present, fault)

    def _exactly(self, tools: Sequence[Body]) -> Taken:
        """Cut on true faces: all tools at once, else each in its turn, where need be a hair aside."""
        crowded = pairs_of_faces(tools) > MOST_PAIRS
        try:
            removal, rest = self._in_turn(tools, True) if crowded else _parted(self.body, tools)
        except KernelError:
            if crowded:
                raise
            removal, rest = self._in_turn(tools)
        if is_empty(removal):
            return Taken(EMPTY, 0.0, self.standing)
        self._body = rest
        return Taken(removal, measure.volume(removal), self.standing)

    def _in_turn(self, tools: Sequence[Body], once: bool = False) -> tuple[Body, Body]:
        removal, rest = parted_in_turn(self.body, tools, once)
        why = "so many faces would not come to an end" if once else "metal went astray"
        note(f"cut: tools taken in turn, because {why} with all at once")
        return removal, rest

    def _by_meshes(self, tools: Sequence[Body], fault: str) -> Taken:
        try:
            removal, mesh = by_meshes(self._mesh or mesh_of(self.body, FACETS), tools)
        except KernelError as error:
            self.standing = UNKNOWN
            return Taken(EMPTY, 0.0, UNKNOWN, f"{fault}; meshes: {error.detail or error.step}".removeprefix("; "))
        self._mesh, self._body = mesh, None
        self.standing = Standing(facets=FACETS, doubt=self._inherited + 2 / 3 * FACETS * mesh.round_area)
        return Taken(removal, measure.volume(removal), self.standing, fault, bool(fault))


def pairs_of_faces(tools: Iterable[Body]) -> int:
    """How many pairs of faces of tools that meet a boolean of all at once compares, of those with many faces alone."""
    large = [(len(faces(tool)), measure.rough_box(tool.wrapped)) for tool in tools]
    large = [one for one in large if one[0] >= MANY_FACES]
    return sum(n * m for (n, one), (m, other) in combinations(large, 2) if not one.IsOut(other))


def _parted(stock: Body, tools: Sequence[Body], once: bool = False) -> tuple[Body, Body]:
    """What the tools take of the stock, and what they leave. Raises KernelError where the two are not the stock.

    ``once``: nothing is tried after the plain way.
    """
    removal = boolean.common_traced(stock, tools, merge=False, once=once).body
    if is_empty(removal):
        return removal, stock
    rest = boolean.cut_traced(stock, tools, aside=not once, once=once).body
    if not measure.is_sum(stock, (removal, rest)):
        before, taken, left = (measure.volume(body) for body in (stock, removal, rest))
        raise KernelError("cut", _astray(before, taken, left))
    return removal, rest


def parted_in_turn(stock: Body, tools: Sequence[Body], once: bool = False) -> tuple[Body, Body]:
    """The same tool after tool: walls a hair apart that meet in one call no longer do."""
    removals, rest = [], stock
    for tool in (solid for body in tools for solid in solids(body)):
        try:
            removal, rest = _parted(rest, [tool], once)
        except KernelError:
            removal, rest = _parted(rest, [aside(tool)], once)
        removals.append(removal)
    return compound(removals), rest


def by_meshes(stock: Mesh, tools: Sequence[Body]) -> tuple[Body, Mesh]:
    """Removal and rest by closed meshes. Raises KernelError."""
    taken, rest = split_by(stock, tools, FACETS)
    before, chips, left = (mesh.volume() for mesh in (stock.solid, taken, rest.solid))
    if abs(before - chips - left) > BALANCE * before:
        raise KernelError("mesh", _astray(before, chips, left))
    return faceted(taken), rest


def _astray(before: float, taken: float, left: float) -> str:
    return f"{before:.9g} mm3 of stock became {taken:.9g} mm3 of chips and {left:.9g} mm3 of rest"
