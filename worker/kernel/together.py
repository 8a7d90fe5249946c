"""One boolean for many small bodies that keep apart, where each alone would cost as much: what takes the time is a body
of many faces that they are held to, which the kernel takes in anew for every call."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from schemas.tolerances import CARRIED_TOUCH
from worker.kernel import boolean
from worker.kernel.errors import KernelError
from worker.kernel.measure import bounding_box, volume
from worker.kernel.shape import Body, compound, is_empty, solids

Numbers = Sequence[int]


class _Boxes:
    """Boxes of bodies, by which it is told which keep apart and whose a piece is."""

    def __init__(self, bodies: Sequence[Body]) -> None:
        found = [bounding_box(body) for body in bodies]
        self._low, self._high = np.array([box.min for box in found]), np.array([box.max for box in found])

    def groups(self) -> list[list[int]]:
        """The bodies' numbers in groups of which no two come within CARRIED_TOUCH of each other."""
        found: list[list[int]] = []
        for number in range(len(self._low)):
            group = next((one for one in found if not self._near(number, one).any()), None)
            if group is None:
                found.append([number])
            else:
                group.append(number)
        return found

    def _near(self, number: int, others: Numbers) -> NDArray[np.bool_]:
        gap = np.maximum(self._low[number] - self._high[others], self._low[others] - self._high[number])
        return np.asarray((gap <= CARRIED_TOUCH).all(axis=1))

    def owner(self, piece: Body, group: Numbers) -> int:
        """Which body of a group of such a piece lies in."""
        box = bounding_box(piece)
        middle = (np.array(box.min) + np.array(box.max)) / 2
        off = np.maximum(self._low[group] - middle, middle - self._high[group]).max(axis=1)
        return group[int(np.argmin(off))]


def cut_each(bodies: Sequence[Body], tool: Body) -> list[Body]:
    """Each body less the tool, unmerged; raises KernelError as the boolean of one does."""
    if len(bodies) < 2 or any(map(is_empty, bodies)):
        return [boolean.cut(body, [tool], merge=False) for body in bodies]
    boxes, found = _Boxes(bodies), dict[int, Body]()
    for group in boxes.groups():
        found.update(_less(bodies, tool, boxes, group))
    return [found[number] for number in range(len(bodies))]


def _less(bodies: Sequence[Body], tool: Body, boxes: _Boxes, group: Numbers) -> Iterator[tuple[int, Body]]:
    """Those of a group, all at once where the plain way does, else by halves."""
    if len(group) == 1:
        yield group[0], boolean.cut(bodies[group[0]], [tool], merge=False)
        return
    whole = compound([bodies[number] for number in group])
    try:
        rest = boolean.cut_traced(whole, [tool], merge=False, aside=False, once=True).body
    except KernelError:
        for half in (group[: len(group) // 2], group[len(group) // 2 :]):
            yield from _less(bodies, tool, boxes, half)
        return
    pieces: dict[int, list[Body]] = {number: [] for number in group}
    for piece in solids(rest):
        pieces[boxes.owner(piece, group)].append(piece)
    yield from ((number, compound(some)) for number, some in pieces.items())


def sharing_metal(body: Body, tools: Sequence[Sequence[Body]], least: float) -> set[int]:
    """Numbers of the tools, each of one solid or more, that may have more than ``least`` (mm3) in common with a body:
    of all others it is shown that they have not."""
    whole = [compound([solid for solid in tool if not is_empty(solid)]) for tool in tools]
    present = [number for number, tool in enumerate(whole) if not is_empty(tool)]
    if len(present) < 2 or is_empty(body):
        return set(present)
    boxes = _Boxes([whole[number] for number in present])
    groups = [[present[n] for n in group] for group in boxes.groups()]
    return {n for group in groups for n in _sharing(body, whole, group, least)}


def _sharing(body: Body, tools: Sequence[Body], group: Numbers, least: float) -> set[int]:
    if len(group) == 1:
        return set(group)
    try:
        found = boolean.common_traced(body, [tools[number] for number in group], merge=False, once=True).body
    except KernelError:
        middle = len(group) // 2
        return _sharing(body, tools, group[:middle], least) | _sharing(body, tools, group[middle:], least)
    boxes, metal = _Boxes([tools[number] for number in group]), dict.fromkeys(group, 0.0)
    for piece in solids(found):
        metal[group[boxes.owner(piece, range(len(group)))]] += abs(volume(piece))
    return {number for number, most in metal.items() if most > least}
