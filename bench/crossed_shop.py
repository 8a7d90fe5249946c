"""Scenes of features that meet as job shops see them: keyholes, O-ring grooves, keyways in bosses, broken patterns."""

from __future__ import annotations

import math
from collections.abc import Callable

from bench.crossed import BEYOND, UP, Scene, with_edges
from schemas.base import Frame, Vec3
from worker.kernel.boolean import cut, fuse
from worker.kernel.primitives import box

Draw = Callable[[Scene], None]
DOWN: Vec3 = (0.0, 0.0, -1.0)
NOWHERE: Vec3 = (0.0, 0.0, 0.0)


def obround(s: Scene, middle: tuple[float, float], long: float, wide: float, deep: float, turn: float = 0.0) -> Frame:
    """A slot with round ends from the top, turned (rad); its frame, X along it."""
    at = (*middle, s.size[2])
    frame = Frame(location=at, axis=UP, ref_direction=(math.cos(turn), math.sin(turn), 0.0))
    half = (long - wide) / 2
    s.mill((-half, -wide / 2, -deep), (half, wide / 2, BEYOND), 0.0, frame)
    for k in (-half, half):
        s.drill(frame.to_world((k, 0.0, 0.0)), UP, wide, deep)
    return frame


def keyhole(s: Scene) -> None:
    """A slot with a wider hole at one end, off the middle or beyond it by a little, through or blind."""
    x, y, z = s.size
    wide, long, deep = s.between(6, 10), s.between(40, 60), s.between(4, 10)
    frame = obround(s, (x / 2, y / 2), long, wide, deep, s.between(0, 3))
    s.want("slot", length=long, width=wide, depth=deep, ends="radiused radiused")
    big = round(wide * s.dice.uniform(1.2, 1.9), 3)
    at = frame.to_world(((long - wide) / 2, 0.0, 0.0))
    low = s.dice.choice((z + BEYOND, deep + s.between(3, 8)))
    s.drill(at, UP, big, low)
    s.want("round_hole", diameter=big, bottom="through" if low > z else "flat", depth=min(low, z))


def ring_groove_over_holes(s: Scene) -> None:
    """An O-ring groove in the top, round a bore, and a hole in it that is narrower or wider than the groove."""
    x, y, z = s.size
    middle, wide, deep = s.between(34, 44), s.between(3, 5), s.between(2, 3.5)
    bore = s.between(12, 20)
    at = (x / 2, y / 2, z)
    r0, r1 = (middle - wide) / 2, (middle + wide) / 2
    s.tools.append(s.turned(at, UP, (r0, -deep), (r1, -deep), (r1, BEYOND), (r0, BEYOND), (r0, -deep)))
    s.want("slot", width=wide, depth=deep, diameter=middle, ends="loop")
    s.drill(at, UP, bore, z + BEYOND)
    s.want("round_hole", diameter=bore, depth=z, bottom="through")
    thin = round(wide * s.dice.choice((s.dice.uniform(0.4, 0.8), s.dice.uniform(1.2, 1.8))), 3)
    turn = s.between(0, 6)
    spot = (x / 2 + middle / 2 * math.cos(turn), y / 2 + middle / 2 * math.sin(turn), 0.0)
    s.drill(spot, DOWN, thin, z + BEYOND)
    s.want("round_hole", UP, diameter=thin, depth=z - deep if thin < wide else z, bottom="through")


def slots_at_an_angle_on_one_floor(s: Scene) -> None:
    """Two open slots of one depth that cross at any angle."""
    x, y, z = s.size
    deep = s.between(4, z - 10)
    s.slot_x(y / 2, s.between(5, 10), deep)
    turn, wide = math.radians(s.between(40, 80)) * s.dice.choice((-1, 1)), s.between(5, 10)
    frame = Frame(location=(x / 2, y / 2, z), axis=UP, ref_direction=(math.cos(turn), math.sin(turn), 0.0))
    s.mill((-200.0, -wide / 2, -deep), (200.0, wide / 2, BEYOND), 0.0, frame)
    s.want("slot", width=wide, depth=deep, ends="open open")


def counterbores_cut_by_a_pocket(s: Scene) -> None:
    """A pocket whose wall cuts into the heads of counterbored holes, at depths of their own."""
    x, y, z = s.size
    low, head = sorted(s.depths(2, 4, z - 10, 1.5))
    if s.dice.random() < 0.5:
        low, head = head, low
    a, b = s.between(40, x - 40), s.between(30, y - 30)
    s.pocket((x / 2, y / 2), (a, b), low, s.dice.choice((0.0, 4.0)))
    thin, wide = s.between(4, 6), s.between(10, 14)
    for k in (-1, 1):
        at = (x / 2 + k * a / 4, y / 2 + b / 2 + s.between(-1, wide / 4), z)
        s.drill(at, UP, thin, z + BEYOND)
        s.drill(at, UP, wide, head)
        if head > low or at[1] > y / 2 + b / 2:
            s.want("counterbore_hole", diameter=thin, top_diameter=wide, depth=z, bottom="through")
        else:
            s.want("counterbore_hole", diameter=thin, top_diameter=wide, bottom="through")


def bore_through_a_pockets_wall(s: Scene) -> None:
    """A level bore from outside through a pocket's wall, and on into the wall across it."""
    x, y, z = s.size
    deep = s.between(z / 2, z - 6)
    a, b = s.between(30, x - 44), s.between(26, y - 30)
    s.pocket((x / 2, y / 2), (a, b), deep, s.dice.choice((0.0, 3.0)))
    wide = s.between(5, min(10, deep - 3))
    height = z - s.between(wide / 2 + 1, deep - wide / 2 - 1)
    into = s.between(3, 8)
    s.drill((x, y / 2 + s.between(-4, 4), height), (1.0, 0.0, 0.0), wide, (x + a) / 2 + into)
    out = (x - a) / 2
    if a > out + into:  # so much air between two walls makes two holes of it
        s.want("round_hole", (1.0, 0.0, 0.0), diameter=wide, depth=out, bottom="through")
        s.want("round_hole", (1.0, 0.0, 0.0), diameter=wide, depth=into, bottom="flat")
    else:
        s.want("round_hole", (1.0, 0.0, 0.0), diameter=wide, depth=(x + a) / 2 + into, bottom="flat")


def keyway_in_a_boss(s: Scene) -> None:
    """A turned boss on a plate, its bore, and a slot across its top through the bore."""
    x, y, z = s.size
    low, wide, bore = s.between(10, 16), s.between(36, 44), s.between(12, 18)
    at = (x / 2, y / 2, z)
    boss = s.turned(at, UP, (0.0, -low - 1), (wide / 2, -low - 1), (wide / 2, 0.0), (0.0, 0.0))
    s.stock = fuse([box((0.0, 0.0, 0.0), (x, y, z - low)), boss])
    s.want("boss", diameter=wide, height=low)
    s.drill(at, UP, bore, z + BEYOND)
    s.want("round_hole", diameter=bore, depth=z, bottom="through")
    key, deep = s.between(4, 7), s.between(3, low - 4)
    s.mill((-BEYOND, y / 2 - key / 2, z - deep), (x + BEYOND, y / 2 + key / 2, z + BEYOND))
    s.want("slot", width=key, depth=deep, ends="open open")


def t_slot_in_a_step(s: Scene) -> None:
    """A T-slot along a step's floor, with a plain slot across both."""
    x, y, z = s.size
    wide, low = s.between(40, y - 20), s.between(4, 8)
    s.mill((-BEYOND, -BEYOND, z - low), (x + BEYOND, wide, z + BEYOND))
    s.want("step", length=x, depth=low)
    neck, foot, roof, deep = s.between(6, 9), s.between(14, 18), s.between(5, 8), s.between(11, 14)
    at = s.between(14, wide - 16)
    s.mill((-BEYOND, at - neck / 2, z - low - roof - 1), (x + BEYOND, at + neck / 2, z + BEYOND))
    s.mill((-BEYOND, at - foot / 2, z - low - deep), (x + BEYOND, at + foot / 2, z - low - roof))
    s.want("slot", NOWHERE, length=x, width=foot, depth=deep, ends="open open")
    s.slot_y(x / 2 + s.between(-9, 9), s.between(6, 10), low + s.between(2, roof - 2))


def drilled_corners(s: Scene) -> None:
    """A pocket with holes that relieve its corners, down to its floor, below it or right through."""
    x, y, z = s.size
    deep, (a, b) = s.between(4, z - 12), (s.between(30, x - 30), s.between(26, y - 26))
    s.pocket((x / 2, y / 2), (a, b), deep)
    wide = s.between(4, 8)
    in_ = round(wide / 2 * s.dice.uniform(0.0, 0.7), 3)
    low = s.dice.choice((deep, deep + 3.0, z + BEYOND))
    for i in (-1, 1):
        for k in (-1, 1):
            s.drill((x / 2 + i * (a / 2 - in_), y / 2 + k * (b / 2 - in_), z), UP, wide, low)
            s.want("round_hole", diameter=wide, depth=min(low, z), bottom="through" if low > z else "flat")


def slot_round_an_island(s: Scene) -> None:
    """A pocket round a post, and a shallower slot from outside that ends at the post."""
    x, y, z = s.size
    deep = s.between(5, z - 10)
    a, b, wide = s.between(44, x - 30), s.between(36, y - 20), s.between(6, 10)
    post = s.between(12, 18)
    s.pocket((x / 2, y / 2), (a, b), deep, s.dice.choice((0.0, 4.0)))
    island = s.turned((x / 2, y / 2, -1.0), UP, (0.0, 0.0), (post / 2, 0.0), (post / 2, z + 1), (0.0, z + 1))
    s.tools.append(cut(s.tools.pop(), [island]))
    s.want("boss", diameter=post, height=deep)
    other = deep - s.between(2, 4)
    s.mill((x / 2, y / 2 - wide / 2, z - other), (x + BEYOND, y / 2 + wide / 2, z + BEYOND))
    s.tools.append(cut(s.tools.pop(), [island]))
    s.want("slot", width=wide, depth=other)


def chamfer_over_a_slot_and_a_hole(s: Scene) -> None:
    """A block with a chamfered long edge, a slot that runs out through it, and a hole that breaks into it."""
    x, _, z = s.size
    leg = s.between(2, 5)
    s.stock = with_edges(box((0.0, 0.0, 0.0), s.size), leg, lambda a, b: _front(a, b, z), straight=True)
    s.want("chamfer", (0.0, -1.0, 0.0), many=True)
    wide, deep = s.between(6, 10), s.between(leg + 1, z - 10)
    s.slot_y(x / 3, wide, deep)
    thin = s.between(5, 8)
    s.drill((2 * x / 3, leg + s.between(-0.3, 0.3) * thin, z), UP, thin, z + BEYOND)
    s.want("round_hole", diameter=thin, bottom="through")


def _front(a: Vec3, b: Vec3, z: float) -> bool:
    return max(abs(a[1]), abs(b[1]), abs(a[2] - z), abs(b[2] - z)) < 1e-6


def ribs_in_a_pocket(s: Scene) -> None:
    """A pocket with one or two ribs across it, lower than its mouth, and a hole through each bay."""
    x, y, z = s.size
    deep = s.between(9, z - 8)
    a, b, count = x - s.between(16, 30), y - s.between(16, 30), s.dice.choice((1, 2))
    s.pocket((x / 2, y / 2), (a, b), deep, s.dice.choice((0.0, 4.0)))
    low, thick = s.between(2, deep - 4), s.between(3, 6)
    pocket = s.tools.pop()
    ribs = []
    for k in range(count):
        at = x / 2 - a / 2 + a * (k + 1) / (count + 1)
        ribs.append(box((at - thick / 2, -BEYOND, -1.0), (at + thick / 2, y + BEYOND, z - low)))
    s.tools.append(cut(pocket, ribs))
    thin = s.between(4, 8)
    for k in range(count + 1):
        at = x / 2 - a / 2 + a * (k + 0.5) / (count + 1)
        s.drill((at, y / 2, z), UP, thin, z + BEYOND)
        s.want("round_hole", diameter=thin, depth=z - deep, bottom="through")


def clevis(s: Scene) -> None:
    """A fork: a wide slot from one end, a pin hole across both cheeks, a counterbore on one, chamfers at the mouth."""
    x, y, z = s.size
    wide, long = s.between(14, y / 3), s.between(30, x / 2)
    s.mill((x - long, y / 2 - wide / 2, -BEYOND), (x + BEYOND, y / 2 + wide / 2, z + BEYOND))
    s.want("slot", width=wide)
    pin, head, low = s.between(6, 9), s.between(12, 16), s.between(3, 6)
    at = (x - long / 2, 0.0, z / 2)
    s.drill(at, (0.0, -1.0, 0.0), pin, y + BEYOND)
    s.drill(at, (0.0, -1.0, 0.0), head, low)
    s.want("counterbore_hole", (0.0, -1.0, 0.0), diameter=pin, top_diameter=head, bottom="through", many=True)


def obround_pocket_over_its_screw_holes(s: Scene) -> None:
    """A sunk obround with a screw hole in each end, one narrower and one wider than it."""
    x, y, z = s.size
    wide, long, deep = s.between(8, 12), s.between(46, 60), s.between(3, 8)
    frame = obround(s, (x / 2, y / 2), long, wide, deep, s.between(0, 3))
    s.want("slot", length=long, width=wide, depth=deep, ends="radiused radiused")
    for k, share in ((-1, s.dice.uniform(0.4, 0.8)), (1, s.dice.uniform(1.05, 1.6))):
        big = round(wide * share, 3)
        s.drill(frame.to_world((k * (long - wide) / 2, 0.0, 0.0)), UP, big, z + BEYOND)
        s.want("round_hole", diameter=big, depth=z - deep if share < 1 else z, bottom="through")


SHOP: tuple[Draw, ...] = (
    keyhole, ring_groove_over_holes, slots_at_an_angle_on_one_floor, counterbores_cut_by_a_pocket,
    bore_through_a_pockets_wall, keyway_in_a_boss, t_slot_in_a_step, drilled_corners, slot_round_an_island,
    chamfer_over_a_slot_and_a_hole, ribs_in_a_pocket, clevis, obround_pocket_over_its_screw_holes,
)  # fmt: skip
