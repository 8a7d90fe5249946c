"""The carry: all tools of a setup cut the stock in one call, each step's metal is told apart, what is held stays.

The stock lies in the part's frame for good and is never rebuilt: tools and workholding are brought to it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from schemas.base import Box
from schemas.tolerances import BALANCE, CARRIED_TOUCH
from worker.kernel import boolean, measure
from worker.kernel.attempts import aside
from worker.kernel.contact import touches
from worker.kernel.errors import KernelError
from worker.kernel.journal import note
from worker.kernel.partition import split
from worker.kernel.planar import Region, apart, overlap
from worker.kernel.shape import EMPTY, Body, compound, is_empty, solids
from worker.stage.model import Holding
from worker.stage.nesting import hosts
from worker.stage.removal import Sweep
from worker.stage.rungs import MOST_PAIRS, Metal, Taken, pairs_of_faces, parted_in_turn
from worker.stage.standing import EXACT, UNKNOWN, Failure, Standing


@dataclass(frozen=True)
class Carried:
    """``removals[i]`` is the metal that step i takes; ``rest`` the solids that stand afterwards, merged.

    ``standings[i]`` is what the stock before step i is worth, the last one the stock at the end. ``stocks`` are some of
    those stocks, where they were cut one after the other; ``failures`` says which steps could not be cut exactly.
    """

    removals: tuple[Body, ...]
    volumes: tuple[float, ...]
    rest: tuple[Body, ...]
    standings: tuple[Standing, ...]
    stocks: Mapping[int, Body] = field(default_factory=dict)
    failures: tuple[Failure, ...] = ()
    notes: tuple[str, ...] = ()


def cut_all(stock: Body, sweeps: Sequence[Sweep], standing: Standing = EXACT, metal: Box | None = None) -> Carried:
    """The stock after all steps, in their order. ``standing`` is what the stock is worth, ``metal`` a box round it in
    the setup's frame, where one is known.

    Steps that do not meet in plan are cut in one call, whatever their order: their results are the same. So a
    setup costs as many calls as steps lie over each other, and no call has to part tools from tools. A step within
    what a later one takes parts that one's chips. Where that fails, the steps are cut one after the other, each by the
    first way that works.
    """
    if not standing.exact:
        return _without_unswept(_one_by_one(stock, sweeps, standing), sweeps)
    try:
        found = _by_layers(stock, sweeps, standing, metal)
    except KernelError as error:
        found = _one_by_one(stock, sweeps, standing)
        note = f"The stock was cut step by step, because cutting it at once failed ({error.detail or error.step})."
        found = replace(found, notes=(note,))
    return _without_unswept(found, sweeps)


Owners = Sequence[tuple[int, Body]]
"""Solids that steps sweep, each with its step's number."""
Meets = Callable[[int, int], bool]
"""Whether two steps overlap in plan, by their numbers."""


def layers(steps: Sequence[int], sweeps: Sequence[Sweep], meets: Meets) -> list[list[int]]:
    """The steps layer by layer: a step comes after all earlier ones that it meets in plan.

    What runs along the border of others of its layer has one of its own at the end, where no later step needs it gone:
    tools that lie against each other cost more than the walls that they leave.
    """
    depth: dict[int, int] = {}
    for i in steps:
        depth[i] = 1 + max((below for k, below in depth.items() if meets(k, i)), default=-1)
    found = [[i for i in steps if depth[i] == layer] for layer in range(1 + max(depth.values(), default=-1))]
    late = [i for layer in found for i in layer if _is_edge(i, layer, steps, sweeps, meets)]
    return [layer for layer in [*([i for i in layer if i not in late] for layer in found), late] if layer]


def _is_edge(i: int, layer: Sequence[int], steps: Sequence[int], sweeps: Sequence[Sweep], meets: Meets) -> bool:
    """Whether a step that clears no column lies against another of its layer, and no later step meets it."""
    if sweeps[i].column is not None or sweeps[i].plunges or any(k > i and meets(i, k) for k in steps):
        return False
    return not all(k == i or apart(sweeps[i].plan, sweeps[k].plan) for k in layer)


def _meetings(plans: Sequence[Region]) -> Meets:
    """Whether two of the plans overlap, by their numbers; steps on the same holes have the same plan: asked once."""
    numbers: dict[Region, int] = {}
    same = [numbers.setdefault(plan, i) for i, plan in enumerate(plans)]
    known = cache(lambda a, b: overlap(plans[a], plans[b]))
    return lambda a, b: known(same[a], same[b])


def _without_unswept(found: Carried, sweeps: Sequence[Sweep]) -> Carried:
    """After a step whose sweep nobody could make, the metal is not known."""
    unswept = [i for i, sweep in enumerate(sweeps) if sweep.fault]
    if not unswept:
        return found
    standings = tuple(UNKNOWN if i > unswept[0] else s for i, s in enumerate(found.standings))
    failures = tuple(Failure(i, "tool's path", sweeps[i].fault) for i in unswept)
    return replace(found, standings=standings, failures=found.failures + failures)


def _by_layers(stock: Body, sweeps: Sequence[Sweep], standing: Standing, metal: Box | None) -> Carried:
    meets = _meetings([sweep.plan for sweep in sweeps])
    inside: dict[int | None, list[int]] = {}
    for i, host in enumerate(hosts(sweeps, metal, meets)):
        if sweeps[i].bodies:
            inside.setdefault(host, []).append(i)
    taken: dict[int, list[Body]] = {}
    rest = _cut_within(stock, None, inside, sweeps, meets, taken)
    removals = tuple(compound(taken.get(i, [])) for i in range(len(sweeps)))
    volumes = tuple(sum(measure.volume(piece) for piece in taken.get(i, [])) for i in range(len(sweeps)))
    found = Carried(removals, volumes, _joined(rest), (standing,) * (len(sweeps) + 1))
    _check(stock, found)
    return found


def _cut_within(
    stock: Body,
    host: int | None,
    inside: Mapping[int | None, Sequence[int]],
    sweeps: Sequence[Sweep],
    meets: Meets,
    taken: dict[int, list[Body]],
) -> Body:
    """What the steps within a host (None: all that have none) leave of the stock; ``taken`` gets what each takes."""
    plans = [sweep.plan for sweep in sweeps]
    for layer in layers(inside.get(host, ()), sweeps, meets):
        swept = [(i, solid) for i in layer for body in sweeps[i].bodies for solid in solids(body)]
        meeting = measure.sharing_room(stock, [solid for _, solid in swept])
        owners = [swept[n] for n in meeting]  # what only touches the stock's box takes nothing
        if not owners:
            continue
        chips, stock = _cut_layer(stock, owners, plans)
        for i, pieces in chips.items():
            left = _cut_within(compound(pieces), i, inside, sweeps, meets, taken) if i in inside else None
            taken[i] = pieces if left is None else list(solids(left))
    return stock


def _check(stock: Body, found: Carried) -> None:
    before, after = measure.volume(stock), sum(found.volumes) + sum(measure.volume(s) for s in found.rest)
    if abs(after - before) > BALANCE * before and not measure.is_sum(stock, (*found.removals, *found.rest)):
        raise KernelError("carry", f"{before:.9g} mm3 of stock became {after:.9g} mm3 of stock and chips")


def _cut_layer(stock: Body, owners: Owners, plans: Sequence[Region]) -> tuple[dict[int, list[Body]], Body]:
    """What each step of a layer takes, and the rest: all in one split; where that fails one half of the steps after the
    other, of one step alone each solid in its turn, and a single solid out of joined faces, where need be a hair aside,
    else by any way on true faces. Raises KernelError where none works."""
    _refuse_thousands(owners)
    with suppress(KernelError):
        return _split_off(stock, owners, plans)
    if len(owners) == 1:
        ((step, solid),) = owners
        with suppress(KernelError):
            return _split_joined(stock, step, solid, plans)
        removal, rest = parted_in_turn(stock, [solid])
        note("carry: a tool parted from the stock alone, because one split of both failed")
        return ({} if is_empty(removal) else {step: list(solids(removal))}), rest
    taken: dict[int, list[Body]] = {}
    for half in _halves(owners):
        found, stock = _cut_layer(stock, half, plans)
        for step, pieces in found.items():
            taken.setdefault(step, []).extend(pieces)
    note("carry: a layer of steps cut by halves, because one split of all failed")
    return taken, stock


def _split_joined(stock: Body, step: int, solid: Body, plans: Sequence[Region]) -> tuple[dict[int, list[Body]], Body]:
    """What one tool takes of a stock whose faces are joined again, and the rest: most splits fail at pieces of walls on
    which the tool's own lies. Raises KernelError."""
    joined = compound(_joined(stock))
    for tool in (solid, aside(solid)):
        with suppress(KernelError):
            taken, rest = _split_off(joined, [(step, tool)], plans)
            if measure.is_sum(joined, (rest, *taken.get(step, []))):
                note(f"carry: a tool parted from joined faces{'' if tool is solid else ', moved a hair'}")
                return taken, rest
    raise KernelError("split", "joined faces part no better")


def _halves(owners: Owners) -> tuple[Owners, Owners]:
    """Owners of earlier and of later steps; of one step, the first and the last of its solids."""
    steps = sorted({step for step, _ in owners})
    if len(steps) == 1:
        return owners[: len(owners) // 2], owners[len(owners) // 2 :]
    early = set(steps[: len(steps) // 2])
    return [one for one in owners if one[0] in early], [one for one in owners if one[0] not in early]


def _split_off(stock: Body, owners: Owners, plans: Sequence[Region]) -> tuple[dict[int, list[Body]], Body]:
    taken: dict[int, list[Body]] = {}
    rest = []
    for piece, inside in split(stock, [solid for _, solid in owners], _strangers(owners, plans)):
        if inside:
            taken.setdefault(min(owners[n][0] for n in inside), []).append(piece)
        else:
            rest.append(piece)
    if not rest:
        _weigh(stock, taken)
    return taken, compound(rest)


def _weigh(stock: Body, taken: Mapping[int, Sequence[Body]]) -> None:
    """Raises KernelError where a split that left nothing has lost what stays: the kernel drops pieces in silence."""
    chips = [piece for pieces in taken.values() for piece in pieces]
    if not measure.is_sum(stock, chips):
        before, found = measure.volume(stock), sum(map(measure.volume, chips))
        raise KernelError("split", f"{before:.9g} mm3 of stock became {found:.9g} mm3 of chips and nothing else")


def _refuse_thousands(owners: Owners) -> None:
    """Raises KernelError where levels of one step lie in each other with so many faces that a split of all of them at
    once does not come to an end: round corners along borders of hundreds of arcs."""
    pairs = sum(pairs_of_faces(solid for one, solid in owners if one == step) for step in {one for one, _ in owners})
    if pairs > MOST_PAIRS:
        raise KernelError("split", f"{pairs} pairs of faces in one step's levels")


def _strangers(owners: Owners, plans: Sequence[Region]) -> list[list[int]]:
    """Numbers of the solids in groups of which none comes near another of its group, by their boxes or plans."""
    lone = _boxes_apart([solid for _, solid in owners])
    known = cache(lambda i, k: i != k and apart(plans[i], plans[k]))
    groups: list[list[int]] = []
    for number, (step, _) in enumerate(owners):
        for group in groups:
            if all(lone[number, other] or known(owners[other][0], step) for other in group):
                group.append(number)
                break
        else:
            groups.append([number])
    return groups


def _boxes_apart(bodies: Sequence[Body]) -> NDArray[np.bool_]:
    """Which of the bodies have boxes more than CARRIED_TOUCH apart: (bodies, bodies)."""
    boxes = [measure.bounding_box(body) for body in bodies]
    low, high = np.array([box.min for box in boxes]), np.array([box.max for box in boxes])
    gap = np.maximum(low[:, None] - high, low - high[:, None])
    return np.asarray((gap > CARRIED_TOUCH).any(axis=2))


def _one_by_one(stock: Body, sweeps: Sequence[Sweep], standing: Standing) -> Carried:
    """Each step by the first way that works; without a solid to show for it, the metal is known up to the last one."""
    taken: list[Taken] = []
    stocks = {0: stock}
    try:
        metal = Metal(stock, standing)
        for number, sweep in enumerate(sweeps, start=1):
            taken.append(metal.take(sweep.bodies))
            if metal.is_made:
                stocks[number] = metal.body
        stocks[len(sweeps)] = metal.body
    except KernelError as error:
        return _up_to(max(stocks), stocks, taken, len(sweeps), standing, str(error))
    return _carried(stocks, taken, standing)


def _carried(stocks: Mapping[int, Body], taken: Sequence[Taken], standing: Standing) -> Carried:
    return Carried(
        removals=tuple(one.removal for one in taken),
        volumes=tuple(one.volume for one in taken),
        rest=solids(stocks[max(stocks)]),
        standings=(standing, *(one.standing for one in taken)),
        stocks=stocks,
        failures=tuple(Failure(i, "cut", one.fault, one.meshes) for i, one in enumerate(taken) if one.fault),
    )


def _up_to(
    last: int, stocks: Mapping[int, Body], taken: Sequence[Taken], count: int, standing: Standing, fault: str
) -> Carried:
    """The first ``last`` steps as they were cut; of the others the metal is not known."""
    unknown = Taken(EMPTY, 0.0, UNKNOWN)
    found = _carried(stocks, [*taken[:last], *(unknown for _ in range(last, count))], standing)
    failure = Failure(last if last < count else None, "cut", fault)
    return replace(found, failures=(*(f for f in found.failures if (f.index or 0) < last), failure))


def _joined(rest: Body) -> tuple[Body, ...]:
    """The solids that stand, their same-domain faces merged."""
    return tuple(part for solid in solids(rest) for part in solids(boolean.merged(solid)))


def held_and_loose(rest: Sequence[Body], holding: Holding) -> tuple[Body, tuple[Body, ...]]:
    """The solids that the workholding presses on, as one body, and those that come free."""
    held = [s for s in rest if is_held(s, holding)]
    return compound(held), tuple(s for s in rest if s not in held)


def is_held(solid: Body, holding: Holding) -> bool:
    """True when the workholding presses on the solid: both jaws of a vise, a clamp or bolt, else whatever there is."""
    if holding.jaws is not None:
        return all(touches(solid, b.body, CARRIED_TOUCH) for b in holding.of("jaw_fixed", "jaw_moving"))
    pressing = holding.of("clamp", "bolt") or holding.bodies
    return any(touches(solid, b.body, CARRIED_TOUCH) for b in pressing)
