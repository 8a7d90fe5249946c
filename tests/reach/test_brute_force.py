"""Least stick-outs against a simulator that shares nothing with the product: points strewn densely over obstacles whose
surfaces are known in closed form, their distance from a path known in closed form, and the holder's outline.

Sizes and places are drawn. Distances from a rectangle or a point are by the theorem of Pythagoras; points are no more
than 0.05 mm apart, slopes up to 45 degrees and edges are strewn closer, so that the simulator is right to 0.03 mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from schemas.base import Frame
from schemas.tool import HolderSection, Tool
from tests.support.hand_stage import Sweep, part_of, stage_of
from worker.kernel import boolean, primitives
from worker.kernel.planar import grow, rectangle
from worker.kernel.shape import Body
from worker.kernel.sweep import prism
from worker.reach import reach_of
from worker.stage.model import HoldingBody, Plunge

UPRIGHT = Frame()
TILTED = Frame(location=(3.0, -2.0, 7.0), axis=(0.3, -0.5, 0.8), ref_direction=(1.0, 0.2, 0.0))
TIP, RADIUS = -12.0, 5.0
INNER = (30.0, 25.0, 45.0, 33.0)
"""Where the axis runs in the pocket: x0, y0, x1, y1."""
RIGHT = 0.03
"""How far the simulator may be off (mm)."""
Points = np.ndarray
Obstacle = tuple[Body, Points]
Distance = Callable[[Points], np.ndarray]


def _grid(x0: float, y0: float, x1: float, y1: float, step: float = 0.05) -> Points:
    xs, ys = (np.linspace(a, b, max(2, math.ceil((b - a) / step) + 1)) for a, b in ((x0, x1), (y0, y1)))
    return np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)


def _with_heights(plan: Points, z: np.ndarray | float) -> Points:
    return np.column_stack((plan, np.broadcast_to(z, len(plan))))


def _box(at: Points, rng: np.random.Generator, frame: Frame) -> Obstacle:
    size, high = rng.uniform(2, 8, 2), float(rng.uniform(0.5, 25))
    low, top = at - size / 2, at + size / 2
    body = primitives.box((*low, -20.0), (*top, high), frame)
    return body, _with_heights(_grid(*low, *top), high)


def _post(at: Points, rng: np.random.Generator, frame: Frame) -> Obstacle:
    radius, high = float(rng.uniform(1, 5)), float(rng.uniform(0.5, 25))
    body = primitives.cylinder(frame.to_world((*at, -20.0)), frame.to_world((*at, high)), 2 * radius)
    turn = np.linspace(0, 2 * np.pi, 2000)
    rim = at + radius * np.column_stack((np.cos(turn), np.sin(turn)))
    return body, _with_heights(rim, high)


def _dome(at: Points, rng: np.random.Generator, frame: Frame) -> Obstacle:
    radius, middle = float(rng.uniform(2, 6)), float(rng.uniform(0, 10))
    plan = _grid(*(at - radius), *(at + radius), 0.02)
    off = np.hypot(*(plan - at).T)
    plan, off = plan[off < radius], off[off < radius]
    body = primitives.sphere(frame.to_world((*at, middle)), 2 * radius)
    return body, _with_heights(plan, middle + np.sqrt(radius**2 - off**2))


def _cone(at: Points, rng: np.random.Generator, frame: Frame) -> Obstacle:
    low, high = float(rng.uniform(3, 6)), float(rng.uniform(0.5, 2))
    top = float(rng.uniform(2, 10))
    body = primitives.cone(frame.to_world((*at, -2.0)), frame.to_world((*at, top)), 2 * low, 2 * high)
    plan = _grid(*(at - low), *(at + low), 0.02)
    off = np.hypot(*(plan - at).T)
    plan, off = plan[off < low], off[off < low]
    return body, _with_heights(plan, np.minimum(-2 + (low - off) / (low - high) * (top + 2), top))


def _log(at: Points, rng: np.random.Generator, frame: Frame) -> Obstacle:
    """A round bar that lies along x or y."""
    radius, middle, half = float(rng.uniform(1, 4)), float(rng.uniform(0, 12)), float(rng.uniform(2, 8))
    along, across = ((1, 0), (0, 1)) if rng.random() < 0.5 else ((0, 1), (1, 0))
    ends = [frame.to_world((*(at + s * half * np.array(along)), middle)) for s in (-1, 1)]
    side = np.linspace(-radius, radius, 800)[:, None] * np.array(across)
    length = np.linspace(-half, half, 200)[:, None] * np.array(along)
    plan = (at + side[:, None] + length[None]).reshape(-1, 2)
    off = np.repeat(np.linspace(-radius, radius, 800), 200)
    return primitives.cylinder(*ends, 2 * radius), _with_heights(plan, middle + np.sqrt(radius**2 - off**2))


KINDS = (_box, _post, _dome, _cone, _log)
ROOM = 8.0
"""No obstacle is wider than this about its place."""


def _obstacles(rng: np.random.Generator, frame: Frame, distance: Distance) -> list[Obstacle]:
    found: list[Obstacle] = []
    while len(found) < 4:
        at = rng.uniform((0, 0), (75, 60))
        made = KINDS[rng.integers(len(KINDS))](at, rng, frame)
        if distance(made[1][:, :2]).min() > RADIUS + 0.3 and distance(at[None])[0] > RADIUS + ROOM:
            found.append(made)
    return found


def _holder(rng: np.random.Generator) -> tuple[HolderSection, ...]:
    """A stack of up to three: cylinders, cones that widen upwards, and one that narrows."""
    found, size = [], float(rng.uniform(12, 24))
    for _ in range(rng.integers(1, 4)):
        top = size + float(rng.choice([0.0, 3.0, 9.0, -2.0]))
        found.append(HolderSection(diameter=size, length=float(rng.uniform(4, 20)), top_diameter=top))
        size = max(top, size) + float(rng.choice([0.0, 4.0, 10.0]))
    return tuple(found)


def _lift(tool: Tool, metal: Points, away: np.ndarray) -> float:
    """How much higher than it stands the holder must be, for every point of the metal: outline against point."""
    found, low = -np.inf, tool.stickout
    for one in tool.holder:
        lower, upper = one.diameter / 2, one.top / 2
        begins = np.full(len(away), low)
        if upper > lower:
            begins = low + np.clip((away - lower) / (upper - lower), 0, 1) * one.length
        touched = away < max(lower, upper)
        if touched.any():
            found = max(found, float((metal[:, 2] - TIP - begins)[touched].max()))
        low += one.length
    return found


def _pocket(frame: Frame, tool: Tool) -> tuple[Sweep, Distance]:
    x0, y0, x1, y1 = INNER

    def distance(plan: Points) -> np.ndarray:
        return np.hypot(
            *(np.maximum(np.maximum(a - p, p - b), 0) for a, b, p in ((x0, x1, plan[:, 0]), (y0, y1, plan[:, 1])))
        )

    return Sweep(tool, prism(grow(rectangle(*INNER), RADIUS), frame, TIP, 60.0), TIP), distance


def _hole(frame: Frame, tool: Tool) -> tuple[Sweep, Distance]:
    x, y = 37.0, 29.0
    body = primitives.cylinder(frame.to_world((x, y, TIP)), frame.to_world((x, y, 60.0)), 2 * RADIUS)
    plunge = Plunge("round_hole-1", frame.to_world((x, y, 0.0)), 2 * RADIUS, 0.0, TIP, TIP)
    sweep = Sweep(tool, body, TIP, (plunge,), operation="drilling")
    return sweep, lambda plan: np.hypot(plan[:, 0] - x, plan[:, 1] - y)


CASES = {
    "pocket": ("endmill", {"APMX": 12.0, "LU": 13.0}, _pocket),
    "hole": ("twist_drill", {"LU": 13.0, "SIG": 180}, _hole),
}


def clearings(kind: str, seed: int) -> tuple[float, float]:
    """The least stick-out that clears everything: the product's and the simulator's."""
    rng = np.random.default_rng(seed)
    frame = (UPRIGHT, TILTED)[seed % 2]
    type_, sizes, sweep_of = CASES[kind]
    tool = Tool(id="T1", type=type_, DC=2 * RADIUS, stickout=60.0, holder=_holder(rng), **sizes)
    sweep, distance = sweep_of(frame, tool)
    made = _obstacles(rng, frame, distance)
    held = int(rng.integers(0, 3))
    block = primitives.box((0, 0, -40), (75, 60, 0), frame)
    stock = boolean.fuse([block, *(body for body, _ in made[held:])])
    bodies = [HoldingBody(f"clamp-{n}", "clamp", body) for n, (body, _) in enumerate(made[:held])]
    found = reach_of(stage_of(stock, [sweep], bodies, frame), part_of(stock))["10"]
    metal = np.concatenate([_with_heights(_grid(0, 0, 75, 60, 0.1), 0.0), *(points for _, points in made)])
    away = distance(metal[:, :2])
    beside = away >= RADIUS
    return found.clearing, max(tool.stickout + _lift(tool, metal[beside], away[beside]), 0.0)


@pytest.mark.parametrize("kind", CASES)
@pytest.mark.parametrize("seed", range(5))
def test_the_least_stickout_is_the_simulator_s(kind: str, seed: int) -> None:
    product, simulated = clearings(kind, seed)
    assert product == pytest.approx(simulated, abs=0.02 + RIGHT)
