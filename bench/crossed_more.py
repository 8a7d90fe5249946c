"""More scenes of crossed parts: slanting slots, several sides at once, bars, walls that features share."""

from __future__ import annotations

import math
from collections.abc import Callable

from bench.crossed import BEYOND, UP, Scene, with_edges
from schemas.base import Frame, any_frame
from worker.kernel.boolean import cut
from worker.kernel.primitives import box

Draw = Callable[[Scene], None]


def slot_over_a_pockets_side(s: Scene) -> None:
    """A slot that takes the upper part of a deeper pocket's long wall."""
    x, y, z = s.size
    deep, other = sorted(s.depths(2, 4, z - 8, 1.5), reverse=True)
    a, b = s.between(36, x - 30), s.between(26, y - 34)
    s.pocket((x / 2, y / 2), (a, b), deep, s.dice.choice((0.0, 3.0)))
    s.slot_x((y - b) / 2 + s.between(-1, 1), s.between(6, 10), other)


def pocket_over_a_step(s: Scene) -> None:
    """A closed pocket across a step's wall, deeper than the step."""
    x, y, z = s.size
    wide, low = s.between(18, y / 2), s.between(4, z / 3)
    s.mill((-BEYOND, -BEYOND, z - low), (x + BEYOND, wide, z + BEYOND))
    s.want("step")
    deep = low + s.between(4, z - low - 6)
    s.pocket((x / 2, wide), (s.between(20, x - 40), s.between(18, 2 * wide - 10)), deep, s.dice.choice((0.0, 3.0)))


def hole_over_a_step(s: Scene) -> None:
    """A hole whose axis lies near a step's wall."""
    x, y, z = s.size
    wide, low = s.between(18, y / 2), s.between(4, z / 3)
    s.mill((-BEYOND, -BEYOND, z - low), (x + BEYOND, wide, z + BEYOND))
    s.want("step")
    big = s.between(8, 14)
    s.drill((x / 2, wide + s.between(0, 2), z), UP, big, z + BEYOND)
    s.want("round_hole", diameter=big, bottom="through", depth=z)


def slanting_slots(s: Scene) -> None:
    """A slot along x and one askew across it, at two depths."""
    x, y, z = s.size
    deep, other = s.depths(2, 4, z - 8, 1.5)
    s.slot_x(y / 2, s.between(5, 10), deep)
    turn, wide = math.radians(s.between(35, 75)) * s.dice.choice((-1, 1)), s.between(5, 10)
    frame = Frame(location=(x / 2, y / 2, z), axis=UP, ref_direction=(math.cos(turn), math.sin(turn), 0.0))
    s.mill((-200.0, -wide / 2, -other), (200.0, wide / 2, BEYOND), 0.0, frame)
    s.want("slot", width=wide, depth=other, ends="open open")


def obrounds_askew(s: Scene) -> None:
    """Two slots with round ends that cross at any angle, at two depths."""
    x, y, z = s.size
    for deep, turn in zip(s.depths(2, 4, z - 8, 1.5), (0.0, math.radians(s.between(40, 90))), strict=True):
        wide, long = s.between(7, 11), s.between(44, y - 12)
        frame = Frame(location=(x / 2, y / 2, z), axis=UP, ref_direction=(math.cos(turn), math.sin(turn), 0.0))
        half = (long - wide) / 2
        s.mill((-half, -wide / 2, -deep), (half, wide / 2, BEYOND), 0.0, frame)
        for k in (-half, half):
            s.drill(frame.to_world((k, 0.0, 0.0)), UP, wide, deep)
        s.want("slot", length=long, width=wide, depth=deep, ends="radiused radiused")


def heads_that_overlap(s: Scene) -> None:
    """Two counterbored holes with heads that run into each other, at two depths."""
    x, y, z = s.size
    thin, head = s.between(4, 6), s.between(10, 13)
    apart = head * s.dice.uniform(0.75, 0.95)
    for k, deep in zip((-0.5, 0.5), s.depths(2, 4, z - 8, 1.5), strict=True):
        at = (x / 2 + k * apart, y / 2, z)
        s.drill(at, UP, thin, z + BEYOND)
        s.drill(at, UP, head, deep)
        s.want("counterbore_hole", diameter=thin, top_diameter=head, depth=z, bottom="through")


def slots_on_both_sides(s: Scene) -> None:
    """A slot from above along x, one from below along y, with or without a window between them."""
    x, y, z = s.size
    deep, other = s.between(5, z - 6), s.between(5, z - 6)
    if abs(deep + other - z) < 1.5:
        other -= 2.0
    s.slot_x(y / 2, s.between(6, 12), deep)
    wide = s.between(6, 12)
    s.mill((x / 2 - wide / 2, -BEYOND, -BEYOND), (x / 2 + wide / 2, y + BEYOND, other))
    s.want("slot", (0.0, 0.0, -1.0), length=y, width=wide, depth=other, ends="open open")


def slot_down_the_side(s: Scene) -> None:
    """A slot from above along x and one from the front down the whole height that runs into it."""
    x, y, z = s.size
    deep, wide = s.between(5, z - 8), s.between(6, 10)
    at = y * s.dice.uniform(0.4, 0.6)
    s.slot_x(at, wide, deep)
    other, into = s.between(6, 12), at + wide / 2 + s.between(3, 9)
    s.mill((x / 2 - other / 2, -BEYOND, -BEYOND), (x / 2 + other / 2, into, z + BEYOND))
    s.want("slot", (0.0, 0.0, 1.0), width=other)


def bar_with_cuts(s: Scene) -> None:
    """A turned bar: a slot across its end, two flats, cross holes at angles."""
    _, y, _ = s.size
    wide, long = s.between(36, 50), y
    s.stock = s.turned((0.0, 0.0, 0.0), UP, (0.0, 0.0), (wide / 2, 0.0), (wide / 2, long), (0.0, long))
    slot, deep = s.between(5, 9), s.between(6, 14)
    s.mill((-99.0, -slot / 2, long - deep), (99.0, slot / 2, long + BEYOND))
    s.want("slot", depth=deep, width=slot, ends="open open")
    thin, other = s.between(4, 8), s.between(4, 8)
    s.drill((99.0, 0.0, long / 2), (1.0, 0.0, 0.0), thin, 250.0)
    s.want("round_hole", (1.0, 0.0, 0.0), diameter=thin, bottom="through")
    turn = s.dice.uniform(0.6, 2.4)
    way = (math.cos(turn), math.sin(turn), 0.0)
    s.drill((99 * way[0], 99 * way[1], long / 2), way, other, 250.0)
    s.want("round_hole", way, diameter=other, bottom="through")


def keyway_and_bore(s: Scene) -> None:
    """A ring with a stepped bore, a slot across its face and radial holes into the bore."""
    wide, high, bore = s.between(70, 90), s.between(24, 36), s.between(24, 32)
    s.stock = s.turned((0.0, 0.0, 0.0), UP, (0.0, 0.0), (wide / 2, 0.0), (wide / 2, high), (0.0, high))
    s.drill((0.0, 0.0, high), UP, bore, high + BEYOND)
    head, deep = bore + s.between(6, 12), s.between(4, high / 2)
    s.drill((0.0, 0.0, high), UP, head, deep)
    s.want("counterbore_hole", diameter=bore, top_diameter=head, depth=high, bottom="through")
    thin, low = s.between(3, 6), (high - deep) / 2
    for k in range(3):
        way = (math.cos(0.3 + k * math.tau / 3), math.sin(0.3 + k * math.tau / 3), 0.0)
        s.drill((99 * way[0], 99 * way[1], low), way, thin, 99.0)
        s.want("round_hole", way, diameter=thin, bottom="through")


def pocket_islands_and_slots(s: Scene) -> None:
    """A pocket with three islands of different heights and a slot over the highest."""
    x, y, z = s.size
    deep = s.between(14, z - 8)
    s.pocket((x / 2, y / 2), (x - 20, y - 16), deep, 5.0)
    islands = []
    for k, low in zip((0.25, 0.5, 0.75), (0.0, s.between(2, 5), s.between(6, 9)), strict=True):
        a, b = s.between(8, 12), s.between(14, 24)
        islands.append(box((x * k - a / 2, y / 2 - b / 2, -1.0), (x * k + a / 2, y / 2 + b / 2, z - low)))
        s.want("boss", length=max(a, b), width=min(a, b), height=deep - low)
    s.tools.append(cut(s.tools.pop(), islands))
    s.slot_x(y / 2, s.between(3, 6), s.between(11, deep - 2) if deep > 13.5 else 10.5)


def broken_step(s: Scene) -> None:
    """A step with its upper edge broken, a slot through both and a hole in the step."""
    x, _, z = s.size
    wide, low, leg = s.between(18, 28), s.between(8, z / 3), s.between(1, 2.5)
    body = cut(box((0.0, 0.0, 0.0), s.size), [box((-BEYOND, -BEYOND, z - low), (x + BEYOND, wide, z + BEYOND))])
    s.stock = with_edges(
        body, leg, lambda a, b: max(abs(a[1] - wide), abs(b[1] - wide), abs(a[2] + b[2] - 2 * z)) < 1e-6, straight=True
    )
    slant = math.sqrt(0.5)
    s.want("chamfer", (0.0, -slant, slant), depth=leg, length=x, angle=45.0)
    s.want("step", length=x)
    other, deep = s.between(5, 9), low + s.between(3, z / 3)
    s.slot_y(x / 2, other, deep)
    big = s.between(5, 9)
    s.drill((x * 0.2, wide / 2, z - low), UP, big, z + BEYOND)
    s.want("round_hole", diameter=big, bottom="through", depth=z - low)


def slanting_hole_in_a_pocket(s: Scene) -> None:
    """A hole that leans, from a pocket's floor out through the bottom; a blind one across it."""
    x, y, z = s.size
    deep = s.between(8, z / 2)
    s.pocket((x / 2, y / 2), (x - 24, y - 20), deep, 4.0)
    lean, turn, thin = math.radians(s.between(15, 35)), s.dice.uniform(0, math.tau), s.between(4, 7)
    way = (math.sin(lean) * math.cos(turn), math.sin(lean) * math.sin(turn), math.cos(lean))
    s.drill((x / 2, y / 2, z - deep), way, thin, 200.0, out=0.6 * thin + 1)
    s.want("round_hole", way, diameter=thin, bottom="through")


def step_on_a_tilted_face(s: Scene) -> None:
    """A leaning top with a step square to it, a hole across the step's wall and a slot along x over both."""
    x, y, z = s.size
    lean = math.radians(s.between(8, 25))
    frame = any_frame((x / 2, y / 2, z), (0.0, math.sin(lean), math.cos(lean)))
    frame = Frame(location=frame.location, axis=frame.axis, ref_direction=(1.0, 0.0, 0.0))
    s.stock = cut(box((0.0, 0.0, -40.0), (x, y, z + 60)), [box((-200, -200, 0), (200, 200, 200), frame)])
    deep, at = s.between(5, 9), s.between(-6, 6)
    s.mill((-200.0, at, -deep), (200.0, 200.0, BEYOND), 0.0, frame)
    s.want("step", frame.axis, length=x)
    slot, other = s.between(6, 9), deep + s.between(3, 8)
    s.mill((-200.0, at + 8, -other), (200.0, at + 8 + slot, BEYOND), 0.0, frame)
    s.want("slot", frame.axis, length=x, width=slot, depth=other - deep, ends="open open")
    thin = s.between(4, 7)
    s.drill(frame.to_world((0.0, at - 12.0, 0.0)), frame.axis, thin, 12.0, 118.0)
    s.want("round_hole", frame.axis, diameter=thin, depth=12.0, tip_angle=118.0)


Plan = tuple[float, float, float, float]
"""x0, y0, x1, y1 of a cut from above."""
WALL = 3.0
"""Least metal, or air, between the walls of two cuts in a plan (mm)."""


def many_at_once(s: Scene) -> None:
    """Up to nine slots, pockets and holes at depths of their own: whatever crosses goes right across."""
    x, y, z = s.size
    plans: list[tuple[Plan, float]] = []
    for deep in s.depths(s.dice.randint(3, 7), 3, z - 7, 1.2):
        plan = _drawn(s)
        if all(_clear(plan, other) for other, _ in plans):
            plans.append((plan, deep))
            _cut(s, plan, deep)
    for _ in range(s.dice.randint(1, 4)):
        wide = s.between(3, 9)
        at = (s.between(wide, x - wide), s.between(wide, y - wide))
        spot = (at[0] - wide / 2, at[1] - wide / 2, at[0] + wide / 2, at[1] + wide / 2)
        if all(_clear(spot, other) or _inside(spot, other) for other, _ in plans):
            low = max((d for other, d in plans if _inside(spot, other)), default=0.0)
            plans.append((spot, z))
            s.drill((*at, z), UP, wide, z + BEYOND)
            s.want("round_hole", diameter=wide, depth=z - low, bottom="through")


def _drawn(s: Scene) -> Plan:
    x, y, _ = s.size
    kind = s.dice.choice("xxyyppp")
    if kind == "p":
        a, b = s.between(16, x - 12), s.between(16, y - 12)
        left, front = s.between(6, x - 6 - a), s.between(6, y - 6 - b)
        return (left, front, left + a, front + b)
    wide = s.between(4, 12)
    at = s.between(8, (y if kind == "x" else x) - 8 - wide)
    return (-BEYOND, at, x + BEYOND, at + wide) if kind == "x" else (at, -BEYOND, at + wide, y + BEYOND)


def _cut(s: Scene, plan: Plan, deep: float) -> None:
    x, y, z = s.size
    x0, y0, x1, y1 = plan
    s.mill((x0, y0, z - deep), (x1, y1, z + BEYOND))
    a, b = min(x1, x) - max(x0, 0.0), min(y1, y) - max(y0, 0.0)
    if a == x or b == y:
        long, wide = (a, b) if a == x else (b, a)
        s.want("slot", length=long, width=wide, depth=deep, ends="open open")
    else:
        s.want("closed_pocket", length=max(a, b), width=min(a, b), depth=deep)


def _clear(a: Plan, b: Plan) -> bool:
    """True where nothing is doubtful: cuts lie apart or go right across each other, by WALL at least."""
    beside = [a[k] - b[k + 2] > WALL or b[k] - a[k + 2] > WALL for k in (0, 1)]
    within = [_spans(a, b, k) for k in (0, 1)]
    over = [_spans(b, a, k) for k in (0, 1)]
    return any(beside) or (within[0] and over[1]) or (over[0] and within[1])


def _spans(a: Plan, b: Plan, k: int) -> bool:
    return b[k] + WALL < a[k] and a[k + 2] < b[k + 2] - WALL


def _inside(a: Plan, b: Plan) -> bool:
    return _spans(a, b, 0) and _spans(a, b, 1)


MORE: tuple[Draw, ...] = (
    slot_over_a_pockets_side, pocket_over_a_step, hole_over_a_step, slanting_slots, obrounds_askew, heads_that_overlap,
    slots_on_both_sides, slot_down_the_side, bar_with_cuts, keyway_and_bore, pocket_islands_and_slots,
    broken_step, slanting_hole_in_a_pocket, step_on_a_tilted_face,
)  # fmt: skip
"""One a seed, in turn, after the others."""
