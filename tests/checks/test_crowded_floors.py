"""Fillets beside floors on which the flat of a cutter with a smaller corner finds no room.

Closed form: between walls 12 apart with fillets of 2 the floor is 8 wide. A flat of 10 between corners of 1 comes down
to where its corners lie in the fillets: 1 above the floor. 12 x 1 + 2 (1 - pi / 4) (1 - 2^2) of each section stay.
A flat of 9 comes down to where its corners, 1.5 off the walls, touch fillets whose middles are 2 off: their middles are
1 apart, so those of the corners lie cos 30 deg below. Fillets and corners are circles: what is below both stays.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest

from examples.shapes import Shape, box, cut, cylinder, fuse
from tests.support.block import Json, as_step, one_setup, told
from tests.support.filleted import filleted_at
from worker.kernel.shape import Body
from worker.pipeline import check_plan

REACH: Json = {"type": "bullnose_endmill", "APMX": 20, "LU": 30, "stickout": 40}
SLOT: Json = {"class": "slot"}
TOP: Json = {"class": "planar_face", "normal": [0, 0, 1], "at": [1, 1, 10]}
LONG = 24
"""Of the slot (mm): every section of it is alike."""


def _slot() -> Shape:
    return cut(
        box((0, 0, 0), (LONG, 40, 20)),
        filleted_at(
            box((-1, 14, 9), (LONG + 1, 26, 21)), 2, lambda x, y, z: abs(z - 9) < 1e-6 and abs(x - LONG / 2) < 1e-6
        ),
    )


def _posts() -> Shape:
    """Two posts of 10 with fillets of 2 at their feet, 10 from each other: 6 of the floor are flat between them."""
    posts = [cylinder((x, 20, 9), (x, 20, 20), 10) for x in (20, 40)]
    plate = fuse(box((0, 0, 0), (60, 40, 10)), *posts)
    return filleted_at(plate, 2, lambda x, y, z: abs(z - 10) < 1e-6 and 1 < x < 59 and 1 < y < 39)


def _hole() -> Shape:
    """16 across and 8 deep, with a fillet of 2 at its floor."""
    drilled = filleted_at(cylinder((30, 20, 12), (30, 20, 21), 16), 2, lambda x, y, z: abs(z - 12) < 1e-6)
    return cut(box((0, 0, 0), (60, 40, 20)), drilled)


def _plan(of: Json, size: float, corner: float, long: float = 60, **keys: float) -> Json:
    """A blank as long as the part."""
    tool: Json = {"id": "BU", "DC": size, "DMM": size, "RE": corner, **REACH}
    step = {"id": "10", "operation": "bottom_and_side_finish_milling", "tool": "BU", "features": [of], **keys}
    plan = one_setup([step], tool)
    plan["workpiece"]["rawpiece"]["box"]["max"][0] = long
    return plan


def _told(part: Shape, *stated: Any, **keys: float) -> tuple[set[str], float]:
    """Codes of errors, by both computations, and what is left (mm3)."""
    report = check_plan(as_step(Body(part)), json.dumps(_plan(*stated, **keys)).encode(), {}).report
    return {f.code for f in report.findings if f.level == "error"}, report.residual.volume


def _by_solids(part: Shape, *stated: Any) -> set[str]:
    """Codes of errors by the solid model alone: the second computation takes ten times as long where flats crowd."""
    return {f.code for f in told(_plan(*stated), as_step(Body(part))) if f.level == "error"}


@pytest.mark.parametrize("keys", [{}, {"bottom_z": -11}], ids=["the floor's depth", "the same depth stated"])
def test_a_flat_wider_than_the_floor_stays_where_its_corners_meet_the_fillets(keys: dict[str, float]) -> None:
    codes, left = _told(_slot(), SLOT, 12, 1, LONG, **keys)
    assert codes == {"fit.floor-radius", "left.stock"}
    assert left == pytest.approx(LONG * (12 + 2 * (1 - math.pi / 4) * (1 - 2**2)), abs=0.004)


def _below(corner: float, fillet: float, flat: float, wide: float) -> float:
    """Section (mm2) that stays beneath a corner on its way up a fillet, on both sides, by adding up strips."""
    y = (np.arange(200_000) + 0.5) / 200_000 * (wide / 2)
    up = np.where(y < fillet, fillet - np.sqrt(np.maximum(fillet**2 - (fillet - y) ** 2, 0.0)), 0.0)
    off = wide / 2 - flat / 2
    first = fillet - corner - math.sqrt((fillet - corner) ** 2 - (fillet - off) ** 2)
    under = corner - np.sqrt(np.maximum(corner**2 - np.maximum(off - y, 0.0) ** 2, 0.0))
    touch = fillet - fillet * (fillet - off) / (fillet - corner)
    return float(np.where(y > touch, first + under - up, 0.0).sum() * wide / 200_000)


def test_a_flat_a_little_wider_than_the_floor_comes_down_further() -> None:
    """Its whole way takes no more than the section leaves, and passes at so many heights little less."""
    codes, left = _told(_slot(), SLOT, 11, 1, LONG)
    exact = LONG * _below(1, 2, 9, 12)
    assert codes == {"fit.floor-radius", "left.stock"}
    assert exact < left < 1.1 * exact


@pytest.mark.parametrize(("size", "corner"), [(12, 2), (10, 1)])
def test_a_flat_no_wider_than_the_floor_follows_the_fillets(size: float, corner: float) -> None:
    assert _told(_slot(), SLOT, size, corner, LONG) == (set(), pytest.approx(0, abs=1e-6))


@pytest.mark.parametrize(
    ("size", "both", "codes"), [(14, False, set()), (16, True, {"fit.floor-radius", "left.stock"})]
)
def test_a_flat_in_a_hole_of_12_within_its_fillet(size: float, both: bool, codes: set[str]) -> None:
    stated = _hole(), {"class": "round_hole"}, size, 1
    assert (_told(*stated)[0] if both else _by_solids(*stated)) == codes


@pytest.mark.parametrize(("size", "both", "codes"), [(8, True, set()), (9, False, {"left.stock"})])
def test_a_flat_between_two_posts(size: float, both: bool, codes: set[str]) -> None:
    stated = _posts(), TOP, size, 1
    assert (_told(*stated)[0] if both else _by_solids(*stated)) == codes
