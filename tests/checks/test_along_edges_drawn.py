"""Chamfering cutters beside drawn obstacles, against a simulator that shares nothing with the product.

The ledge's edge is straight, so the distance of a point from the axis's path is that from a segment; the obstacles are
strewn with points from their closed forms. The depth of the tip is the product's own: at that depth the simulator says
what flank, shank and holder meet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse, polygon, prism
from tests.checks.test_along_edges import TOP, checked, mill
from tests.support.trial import Json
from worker.reach.edge import EdgeStep
from worker.reach.model import Reach

EDGE, BACK = -30.0, 20.0
NEAR = EDGE + 1.1
"""Obstacles begin behind the chamfer, which comes in by 1."""
Points = np.ndarray


@dataclass
class Drawn:
    """A block with obstacles on it, and points of what stands there."""

    shape: Shape = field(default_factory=lambda: box((-40, -30, -40), (40, 30, TOP)))
    points: list[Points] = field(default_factory=lambda: [_raised(_grid(-40, NEAR, 40, 30, 0.1), TOP)])

    def add(self, shape: Shape, points: Points) -> None:
        self.shape = fuse(self.shape, shape)
        self.points.append(points)


def _grid(x0: float, y0: float, x1: float, y1: float, step: float = 0.05) -> Points:
    xs, ys = (np.linspace(a, b, max(2, math.ceil((b - a) / step) + 1)) for a, b in ((x0, x1), (y0, y1)))
    return np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)


def _raised(plan: Points, z: np.ndarray | float) -> Points:
    return np.column_stack((plan, np.broadcast_to(z, len(plan))))


def _block(drawn: Drawn, x: float, y: float, rng: np.random.Generator) -> None:
    wide, deep, high = rng.uniform((2, 2, -9), (8, 8, 10))
    low, top = (x - wide / 2, max(y, NEAR)), (x + wide / 2, max(y, NEAR) + deep)
    drawn.add(box((*low, -15), (*top, high)), _raised(_grid(*low, *top), high))


def _post(drawn: Drawn, x: float, y: float, rng: np.random.Generator) -> None:
    radius, high = rng.uniform((1, -9), (5, 10))
    at, turn = np.array([x, max(y, NEAR) + radius]), np.linspace(0, math.tau, 3000)
    rim = at + radius * np.column_stack((np.cos(turn), np.sin(turn)))
    drawn.add(cylinder((*at, -15), (*at, high), 2 * radius), _raised(rim, high))


def _log(drawn: Drawn, x: float, y: float, rng: np.random.Generator) -> None:
    """A round bar that lies along the edge, sunk into the block."""
    radius, middle, half = rng.uniform((2, -12, 2), (8, -8.5, 10))
    y = max(y, NEAR) + radius
    along, turn = np.meshgrid(np.linspace(-half, half, 400), np.linspace(0, math.pi, 1500))
    plan = np.stack((x + along, y + radius * np.cos(turn)), axis=-1).reshape(-1, 2)
    points = _raised(plan, middle + radius * np.sin(turn).ravel())
    drawn.add(cylinder((x - half, y, middle), (x + half, y, middle), 2 * radius), points)


def drawn_block(rng: np.random.Generator) -> tuple[Shape, Points]:
    drawn = Drawn()
    drawn.add(box((-3, BACK, -12), (3, BACK + 6, 0)), _raised(_grid(-3, BACK, 3, BACK + 6), 0.0))
    for _ in range(3):
        kind = (_block, _post, _log)[rng.integers(3)]
        kind(drawn, float(rng.uniform(-28, 28)), float(rng.uniform(-28, 5)), rng)
    metal = np.concatenate(drawn.points)
    return drawn.shape, metal[metal[:, 2] > TOP - 0.5]


def drawn_cutter(rng: np.random.Generator) -> Json:
    size, lower, upper = rng.uniform((6, 14, 40), (20, 40, 60))
    length = size / 2 + float(rng.uniform(0, 4))
    holder = [{"diameter": lower, "length": float(rng.uniform(5, 20))}, {"diameter": upper, "length": 30.0}]
    if rng.random() < 0.4:
        holder[0]["top_diameter"] = lower + 5
    sizes = {
        "DC": size,
        "LU": length,
        "DMM": size + float(rng.choice([0.0, 4.0])),
        "tip_diameter": float(rng.choice([0, 1])),
    }
    return {**mill(**sizes), "stickout": length + float(rng.uniform(1, 20)), "holder": holder}


def _lift(low: float, lower: float, upper: float, length: float, rise: np.ndarray, away: np.ndarray) -> float:
    """How much higher a section would have to begin."""
    begins = np.full(len(away), low)
    if upper > lower:
        begins = low + np.clip((away - lower) / (upper - lower), 0, 1) * length
    touched = away < max(lower, upper) - 1e-3
    return float((rise - begins)[touched].max(initial=-np.inf))


def simulated(cutter: Json, metal: Points, deep: float) -> tuple[float, float, float]:
    """Least stick-out, how deep the shank goes and how far the flank reaches in, with the tip that far below."""
    path = EDGE - cutter["tip_diameter"] / 2 - deep
    aside = np.maximum(np.abs(metal[:, 0]) - 40, 0)
    away, rise = np.hypot(aside, metal[:, 1] - path), metal[:, 2] - (TOP - 1 - deep)
    flank = float((np.minimum(cutter["tip_diameter"] / 2 + rise, cutter["DC"] / 2) - away).max())
    shank = _lift(cutter["LU"], cutter["DMM"] / 2, cutter["DMM"] / 2, 1e6, rise, away)
    low, lift = cutter["stickout"], -np.inf
    for one in cutter["holder"]:
        upper = one.get("top_diameter", one["diameter"]) / 2
        lift = max(lift, _lift(low, one["diameter"] / 2, upper, one["length"], rise, away))
        low += one["length"]
    return max(cutter["stickout"] + lift, 0.0), shank, flank


@pytest.mark.parametrize("seed", range(6))
def test_what_the_cutter_meets_is_what_the_simulator_meets(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[tuple[Reach, float]] = []
    reach = EdgeStep.reach

    def listening(one: EdgeStep) -> Reach:
        found.append((reach(one), one.rims[0].low - one.tips[0]))
        return found[-1][0]

    monkeypatch.setattr(EdgeStep, "reach", listening)
    rng = np.random.default_rng(seed)
    raw, metal = drawn_block(rng)
    cutter = drawn_cutter(rng)
    corner = prism(polygon([(-41, -31, TOP), (-41, -29, TOP), (-41, -31, TOP - 2)]), (82, 0, 0))
    report = checked(cutter, part=cut(raw, corner), raw=raw)
    assert not {"rule.failed"} & {f.code for f in report.findings}
    ((told, deep),) = found
    clearing, shank, flank = simulated(cutter, metal, deep)
    assert told.clearing == pytest.approx(clearing, abs=0.05)
    assert (told.cutter is not None) == (flank > 0.01)
    if told.cutter is None:
        assert (told.shank.depth if told.shank else 0.0) == pytest.approx(max(shank, 0.0), abs=0.05)
