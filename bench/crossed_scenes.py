"""The scenes of crossed parts: each draws what cuts into what, and states what is there."""

from __future__ import annotations

import math
from collections.abc import Callable

from bench.crossed import BEYOND, UP, Scene, with_edges
from schemas.base import Frame, Vec3, add, scale
from worker.kernel.boolean import cut
from worker.kernel.primitives import box

Draw = Callable[[Scene], None]


def slot_through_pocket(s: Scene) -> None:
    """A slot across a closed pocket, narrower than it, deeper or shallower."""
    x, y, z = s.size
    deep, other = s.depths(2, 4, z - 8, 1.5)
    sides = (s.between(30, x - 30), s.between(28, y - 24))
    s.pocket((x / 2, y / 2), sides, deep, s.dice.choice((0.0, s.between(2, 6))))
    s.slot_x(y / 2 + s.between(-3, 3), s.between(6, 12), other)


def pocket_over_pocket(s: Scene) -> None:
    """A long pocket across a wide one: a plus, at two depths."""
    x, y, z = s.size
    deep, other = s.depths(2, 4, z - 8, 1.5)
    s.pocket((x / 2, y / 2), (s.between(50, x - 14), s.between(10, 18)), deep, s.dice.choice((0.0, 3.0)))
    s.pocket((x / 2 + s.between(-8, 8), y / 2), (s.between(12, 20), s.between(36, y - 14)), other)


def pocket_stairs(s: Scene) -> None:
    """Pockets in the floors of pockets."""
    x, y, z = s.size
    a, b, low = x - s.between(14, 24), y - s.between(14, 24), 0.0
    for _ in range(s.dice.choice((2, 3))):
        deep = s.between(3, (z - 6) / 3)
        low += deep
        s.mill((x / 2 - a / 2, y / 2 - b / 2, z - low), (x / 2 + a / 2, y / 2 + b / 2, z + BEYOND), s.between(1, 4))
        s.want("closed_pocket", length=max(a, b), width=min(a, b), depth=deep)
        a, b = a - s.between(10, 16), b - s.between(10, 16)


def island_under_slot(s: Scene) -> None:
    """A slot across a pocket and the island in it, shallower than the pocket."""
    x, y, z = s.size
    deep = s.between(10, z - 10)
    s.pocket((x / 2, y / 2), (x - 24, y - 20), deep, s.dice.choice((0.0, 4.0)))
    a, b = s.between(20, 30), s.between(18, 26)
    round_ = s.dice.random() < 0.5
    if round_:
        s.keep.append(s.turned((x / 2, y / 2, -1.0), UP, (0.0, 0.0), (a / 2, 0.0), (a / 2, z + 1), (0.0, z + 1)))
        s.want("boss", diameter=a, height=deep)
    else:
        s.keep.append(box((x / 2 - a / 2, y / 2 - b / 2, -1.0), (x / 2 + a / 2, y / 2 + b / 2, z)))
        s.want("boss", length=max(a, b), width=min(a, b), height=deep)
    pocket = cut(s.tools.pop(), [s.keep.pop()])
    s.tools.append(pocket)
    s.slot_x(y / 2, s.between(5, 9), s.between(3, deep - 3))


def crossed_slots(s: Scene) -> None:
    """Slots along x and along y: ribs crossed by slots."""
    x, y, z = s.size
    along, across = s.dice.randint(1, 3), s.dice.randint(1, 3)
    level = s.depths(2, 4, z - 8, 1.5)
    if s.dice.random() < 0.2:
        level[1] = level[0]
    for i in range(along):
        s.slot_x(y * (i + 1) / (along + 1), s.between(5, 10), level[0])
    for i in range(across):
        s.slot_y(x * (i + 1) / (across + 1), s.between(5, 10), level[1])


def slots_of_all_depths(s: Scene) -> None:
    """Three crossing slots, each at its own depth."""
    x, y, z = s.size
    deep = s.depths(3, 4, z - 8, 1.5)
    s.slot_x(y * 0.3, s.between(5, 10), deep[0])
    s.slot_x(y * 0.7, s.between(5, 10), deep[1])
    s.slot_y(x * s.dice.uniform(0.3, 0.7), s.between(5, 10), deep[2])


def steps_round_a_corner(s: Scene) -> None:
    """Steps on two edges that meet, one deeper."""
    x, y, z = s.size
    deep, other = s.depths(2, 4, z - 8, 1.5)
    a, b = s.between(8, y / 3), s.between(8, x / 3)
    s.mill((-BEYOND, -BEYOND, z - deep), (x + BEYOND, a, z + BEYOND))
    s.mill((-BEYOND, -BEYOND, z - other), (b, y + BEYOND, z + BEYOND))
    s.want("step", width=a, depth=deep)
    s.want("step", width=b, depth=other)


def stairs(s: Scene) -> None:
    """A step in a step, with a slot down the stairs."""
    x, y, z = s.size
    a, b = s.between(20, y / 3), s.between(6, 14)
    deep = s.between(5, z / 3)
    more = s.between(5, z / 3)
    s.mill((-BEYOND, -BEYOND, z - deep), (x + BEYOND, a, z + BEYOND))
    s.mill((-BEYOND, -BEYOND, z - deep - more), (x + BEYOND, b, z + BEYOND))
    s.want("step", depth=deep, length=x)
    s.want("step", depth=more, width=b, length=x)
    if s.dice.random() < 0.5:
        s.slot_y(x / 2 + s.between(-9, 9), s.between(5, 10), deep + more + s.between(2, 6))


def crossing_holes(s: Scene) -> None:
    """Through holes whose axes meet, at any angle."""
    x, y, z = s.size
    wide, thin = s.between(9, 13), s.between(4, 8)
    if s.dice.random() < 0.2:
        thin = wide
    centre = (x / 2, y / 2, z / 2)
    s.drill((x / 2, y / 2, z), UP, wide, z + BEYOND)
    s.want("round_hole", diameter=wide, depth=z, bottom="through")
    lean, turn = math.radians(s.between(35, 60)), s.dice.uniform(0, math.tau)
    way = (math.sin(lean) * math.cos(turn), math.sin(lean) * math.sin(turn), math.cos(lean))
    s.drill(add(centre, way, 100.0), way, thin, 200.0, out=1.0)
    s.want("round_hole", way, diameter=thin, bottom="through")
    if s.dice.random() < 0.5:
        third = s.between(4, 8)
        s.drill((x / 2, y, z / 2), (0.0, 1.0, 0.0), third, y + BEYOND)
        s.want("round_hole", (0.0, 1.0, 0.0), diameter=third, bottom="through", depth=y)


def holes_in_a_chamfer(s: Scene) -> None:
    """An upright hole and one square to a wide chamfer; the upright one may leave over an edge of it."""
    x, _, z = s.size
    leg = s.between(3, 5)
    body = box((0.0, 0.0, 0.0), s.size)
    s.stock = with_edges(body, leg, lambda a, b: a[1] + b[1] < 1e-6 and a[2] + b[2] > 2 * z - 1e-6, straight=True)
    s.want("chamfer", (0.0, -math.sqrt(0.5), math.sqrt(0.5)), length=x, depth=leg, angle=45.0)
    thin = s.between(1.5, 2.5)
    at = leg / 2 if s.dice.random() < 0.5 else leg
    s.drill((x * 0.3, at, z), UP, thin, s.between(leg + 3, z - 6), s.dice.choice((0.0, 118.0)))
    s.want("round_hole", diameter=thin)
    slant = (0.0, -math.sqrt(0.5), math.sqrt(0.5))
    deep = s.between(4, 12)
    s.drill((x * 0.7, leg / 2, z - leg / 2), slant, thin, deep, 118.0)
    s.want("round_hole", slant, diameter=thin, depth=deep, tip_angle=118.0, bottom="conical")


def broken_edges(s: Scene) -> None:
    """All upper edges broken, slots through them both ways, and a hole."""
    x, y, z = s.size
    leg = s.between(0.8, 3)
    body = box((0.0, 0.0, 0.0), s.size)
    s.stock = with_edges(body, leg, lambda a, b: a[2] + b[2] > 2 * z - 1e-6, straight=True)
    for way in ((0.0, -1.0), (0.0, 1.0), (-1.0, 0.0), (1.0, 0.0)):
        s.want("chamfer", scale((way[0], way[1], 1.0), math.sqrt(0.5)), depth=leg, angle=45.0)
    deep, other = s.depths(2, leg + 2, z - 8, 1.5)
    s.slot_x(y * s.dice.uniform(0.35, 0.65), s.between(5, 10), deep)
    if s.dice.random() < 0.6:
        s.slot_y(x * s.dice.uniform(0.35, 0.65), s.between(5, 10), other)
    wide = s.between(5, 9)
    s.drill((x * 0.15, y * 0.15, z), UP, wide, z + BEYOND)
    s.want("round_hole", diameter=wide, depth=z, bottom="through")


def on_a_tilted_face(s: Scene) -> None:
    """A block whose top leans: a pocket beside a slot with a hole in its floor, all square to it."""
    x, y, z = s.size
    lean = math.radians(s.between(6, 25))
    way = (math.sin(lean), 0.0, math.cos(lean))
    frame = Frame(location=(x / 2, 0.0, z), axis=way, ref_direction=(math.cos(lean), 0.0, -math.sin(lean)))
    s.stock = cut(box((0.0, 0.0, -30.0), (x, y, z + 60)), [box((-200, -9, 0), (200, y + 9, 200), frame)])
    deep, other = s.depths(2, 4, 16, 1.5)
    a, b = s.between(18, 26), s.between(24, y - 24)
    s.mill((-a / 2 - 14, y / 2 - b / 2, -deep), (a / 2 - 14, y / 2 + b / 2, BEYOND), s.between(2, 4), frame)
    s.want("closed_pocket", way, length=max(a, b), width=min(a, b), depth=deep)
    wide = s.between(6, 9)
    s.mill((12.0, -BEYOND, -other), (12.0 + wide, y + BEYOND, BEYOND), 0.0, frame)
    s.want("slot", way, length=y, width=wide, depth=other, ends="open open")
    thin = s.between(2, 5)
    mouth = frame.to_world((12.0 + wide / 2, y * 0.4, -other))
    s.drill(mouth, way, thin, 8.0, 118.0, out=1.0)
    s.want("round_hole", way, diameter=thin, depth=8.0, tip_angle=118.0)


def bored_floors(s: Scene) -> None:
    """Holes in the floors of a pocket and of a slot, one of them stepped, and one across the slot's walls."""
    x, y, z = s.size
    deep = s.between(12, z - 12)
    s.pocket((x * 0.3, y / 2), (s.between(24, x * 0.4), s.between(24, y - 30)), deep, 4.0)
    wide = s.between(6, 10)
    s.drill((x * 0.3, y / 2, z), UP, wide, z + BEYOND)
    s.want("round_hole", diameter=wide, depth=z - deep, bottom="through")
    slot, other = s.between(12, 15), s.between(10, z - 12)
    s.slot_y(x * 0.75, slot, other)
    thin, head = s.between(3, 5), s.between(7, 11)
    s.drill((x * 0.75, y * 0.3, z), UP, thin, z + BEYOND)
    s.drill((x * 0.75, y * 0.3, z), UP, head, other + 3.0)
    s.want("counterbore_hole", diameter=thin, top_diameter=head, depth=z - other, bottom="through")


def across_a_narrow_slot(s: Scene) -> None:
    """A cross hole through the walls of a slot that is narrower than the hole: one hole."""
    x, y, z = s.size
    slot, deep = s.between(4, 6), s.between(20, z - 8)
    s.slot_y(x * 0.8, slot, deep)
    wide = slot + s.between(1, 4)
    long = s.between(x * 0.2 + slot + 12, x * 0.7)
    way = (1.0, 0.0, 0.0)
    s.drill((x, y / 2, z - deep / 2), way, wide, long, 118.0)
    s.want("round_hole", way, diameter=wide, depth=long, bottom="conical", tip_angle=118.0)


def half_out_counterbore(s: Scene) -> None:
    """A counterbore whose wall leaves the part's side, the hole under it not."""
    x, _, z = s.size
    thin = s.between(5, 8)
    head = thin + s.between(6, 10)
    aside = max(head / 2 * s.dice.uniform(0.4, 0.9), thin / 2 + 1)
    deep = s.between(4, z - 10)
    s.drill((x / 2, aside, z), UP, thin, z + BEYOND)
    s.drill((x / 2, aside, z), UP, head, deep)
    s.want("counterbore_hole", diameter=thin, top_diameter=head, depth=z, bottom="through")


def rounds_that_meet(s: Scene) -> None:
    """Rounds on the upper edges and one upright edge, with slots through them."""
    x, y, z = s.size
    r = s.between(2, 5)
    body = box((0.0, 0.0, 0.0), s.size)
    s.stock = with_edges(body, r, lambda a, b: a[2] + b[2] > 2 * z - 1e-6 or (_is_upright(a, b) and a[0] + a[1] < 1e-6))
    s.want("edge_round", radius=r, many=True)
    deep, other = s.depths(2, r + 2, z - 8, 1.5)
    s.slot_x(y * s.dice.uniform(0.35, 0.65), s.between(5, 10), deep)
    if s.dice.random() < 0.6:
        s.slot_y(x * s.dice.uniform(0.35, 0.65), s.between(5, 10), other)


def _is_upright(a: Vec3, b: Vec3) -> bool:
    return abs(a[0] - b[0]) + abs(a[1] - b[1]) < 1e-6


def filleted_pocket_under_slot(s: Scene) -> None:
    """A pocket with a filleted floor and a slot across that stays above the fillet."""
    x, y, z = s.size
    r = s.between(1, 3)
    deep = s.between(14, z - 8)
    a, b, c = s.between(36, x - 30), s.between(34, y - 24), s.between(r + 1, 7)
    s.pocket((x / 2, y / 2), (a, b), deep, c)
    s.tools.append(with_edges(s.tools.pop(), r, lambda p, q: p[2] + q[2] < 2 * (z - deep) + 1e-6))
    s.wanted[-1].sizes.update(planar_radius=r, orthogonal_radius=c)
    s.slot_x(y / 2, s.between(6, 12), s.between(3, deep - r - 2))


def slot_into_slot(s: Scene) -> None:
    """A slot that ends in a deeper one."""
    x, y, z = s.size
    deep, other = sorted(s.depths(2, 4, z - 8, 1.5), reverse=True)
    a, b = s.between(8, 14), s.between(5, 10)
    at = y * s.dice.uniform(0.3, 0.5)
    s.slot_x(at, a, deep)
    s.mill((x / 2 - b / 2, at, z - other), (x / 2 + b / 2, y + BEYOND, z + BEYOND))
    s.want("slot", length=y - at - a / 2, width=b, depth=other, ends="open open")


def obround_over_slot(s: Scene) -> None:
    """A slot with round ends across an open one, at another depth."""
    x, y, z = s.size
    deep, other = s.depths(2, 4, z - 8, 1.5)
    wide, long = s.between(8, 12), s.between(36, y - 20)
    s.slot_x(y / 2, s.between(5, 10), deep)
    middle = x / 2 + s.between(-9, 9)
    ends = [(middle, y / 2 + k * (long - wide) / 2, z) for k in (-1, 1)]
    s.mill((middle - wide / 2, ends[0][1], z - other), (middle + wide / 2, ends[1][1], z + BEYOND))
    for end in ends:
        s.drill(end, UP, wide, other)
    s.want("slot", length=long, width=wide, depth=other, ends="radiused radiused")


def hole_into_pocket(s: Scene) -> None:
    """A hole from the side into a pocket, and one from the pocket's floor into a cross hole under it."""
    x, y, z = s.size
    deep = s.between(14, z - 14)
    a, b = s.between(40, x - 30), s.between(30, y - 24)
    s.pocket((x / 2, y / 2), (a, b), deep, 4.0)
    thin = s.between(4, 7)
    way = (0.0, -1.0, 0.0)
    s.drill((x / 2, 0.0, z - deep / 2), way, thin, y / 2)
    s.want("round_hole", way, diameter=thin, depth=(y - b) / 2, bottom="through")
    other = s.between(3, 6)
    low = (z - deep) / 2
    s.drill((x, y / 2, low), (1.0, 0.0, 0.0), other, x + BEYOND)
    s.want("round_hole", (1.0, 0.0, 0.0), diameter=other, depth=x, bottom="through")
    wide = s.between(7, 10)
    s.drill((x / 2, y / 2, z - deep), UP, wide, z + BEYOND)
    s.want("round_hole", diameter=wide, depth=z - deep, bottom="through")


def boss_bored(s: Scene) -> None:
    """A round boss in a pocket, bored, with a slot across that is shallower than the boss is high."""
    x, y, z = s.size
    deep, wide, bore = s.between(12, z - 10), s.between(22, 28), s.between(6, 10)
    s.pocket((x / 2, y / 2), (x - 24, y - 20), deep, 4.0)
    boss = s.turned((x / 2, y / 2, -1.0), UP, (0.0, 0.0), (wide / 2, 0.0), (wide / 2, z + 1), (0.0, z + 1))
    s.tools.append(cut(s.tools.pop(), [boss]))
    s.want("boss", diameter=wide, height=deep)
    s.drill((x / 2, y / 2, z), UP, bore, z + BEYOND)
    s.want("round_hole", diameter=bore, bottom="through")
    if s.dice.random() < 0.5:
        s.slot_y(x / 2, s.between(3, bore - 2), s.between(3, deep - 4))


SCENES: tuple[Draw, ...] = (
    slot_through_pocket, pocket_over_pocket, pocket_stairs, island_under_slot, crossed_slots, slots_of_all_depths,
    steps_round_a_corner, stairs, crossing_holes, holes_in_a_chamfer, broken_edges, on_a_tilted_face, bored_floors,
    across_a_narrow_slot, half_out_counterbore, rounds_that_meet, filleted_pocket_under_slot, slot_into_slot,
    obround_over_slot, hole_into_pocket, boss_bored,
)  # fmt: skip
"""One a seed, in turn."""
