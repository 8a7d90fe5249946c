"""Parts whose sizes lie exactly at a limit of choice: noise of exporters and a change of units decide nothing there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest

from bench.reencode import reencoded
from tests.recognise.parts import at_height, block, chamfered, drill
from tests.support.recognised import recognise
from tests.support.scaled import scale_body
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cone, cylinder
from worker.kernel.shape import Body

NOISE = 1e-6
"""Of a file that gives six decimals (mm)."""


def fork(air: float, across: float = 20.0) -> Body:
    """Cheeks 10 thick with a hole of 12 through both; the air between is as long as both."""
    plate = cut(block(x=20 + air, z=60), [box((10, -1, 20), (10 + air, 61, 61))])
    return cut(plate, [cylinder((-1, 30, 40), (21 + air, 30, 40), across * 0.6)])


def frame(air: float) -> Body:
    """Walls 10 thick round a window, with a slot of 20 x 10 through two of them; twice as much air as walls between."""
    return cut(block(x=20 + air), [box((10, 10, -1), (10 + air, 50, 21)), box((-1, 20, 5), (21 + air, 40, 15))])


def notch(length: float) -> Body:
    """Open at one end, twice as long as wide: a slot."""
    return cut(block(), [box((100 - length, 20, 10), (101, 20 + 20, 21))])


def sunk(diameter: float) -> Body:
    """A hole of 10 with a cone of 90 degrees, 1.6 times as wide: a countersink."""
    head = cone((50, 30, 20), (50, 30, 20 - diameter / 2), diameter, 0.0)
    return cut(block(), [drill(50, 30, -1, 21, 10), head])


def bevelled(leg: float) -> Body:
    """A pocket with its rim chamfered by the most that breaks an edge."""

    def rim(a: tuple[float, float, float], b: tuple[float, float, float]) -> bool:
        return at_height(40)(a, b) and all(29 < p[0] < 111 and 29 < p[1] < 71 for p in (a, b))

    return chamfered(cut(block(140, 100, 40), [box((30, 30, 8), (110, 70, 41))]), leg, rim)


def tee(length: float) -> Body:
    """A T-slot through a bar twice as wide as its mouth: a straight cutter makes it from the end."""
    bar = box((0, 0, 0), (length, 60, 40))
    return cut(bar, [box((-1, 24, 20), (length + 1, 36, 41)), box((-1, 19, 11), (length + 1, 41, 20))])


def told(body: Body) -> Counter[tuple[str, str | None, float]]:
    kinds = ("planar_face", "profile_feature")
    found = [f for f in recognise(body) if f.class_ not in kinds]
    return Counter((f.class_, f.ends, round(f.depth or 0.0, 3)) for f in found)


@pytest.mark.parametrize(
    ("part", "limit", "wanted"),
    [
        (fork, 20.0, {("round_hole", None, 40.0): 1, ("slot", "open open", 40.0): 1}),
        (frame, 40.0, {("closed_pocket", None, 20.0): 1, ("closed_pocket", None, 60.0): 1}),
        (notch, 40.0, {("slot", "open flat", 10.0): 1}),
        (
            sunk,
            16.0,
            {("countersunk_hole", None, 20.0): 1, ("round_hole", None, 17.0): 1, ("round_hole", None, 3.0): 1},
        ),
        (bevelled, 5.0, {("closed_pocket", None, 32.0): 1, ("chamfer", None, 5.0): 4}),
        (tee, 24.0, None),
    ],
)
def test_noise_decides_nothing_at_a_limit(
    part: Callable[[float], Body], limit: float, wanted: dict[tuple[str, str | None, float], int] | None
) -> None:
    found = told(part(limit))
    assert wanted is None or found == wanted
    assert all(told(part(limit + noise)) == found for noise in (-NOISE, NOISE))
    assert told(reencoded(part(limit), 3)[0]) == found


def test_a_part_at_a_limit_is_the_same_in_inches() -> None:
    """Drawn in mm, scaled to inches by a factor of six decimals, and back: 20 becomes 19.99996."""
    there_and_back = scale_body(scale_body(fork(20.0), round(1 / 25.4, 6)), 25.4)
    assert [f.class_ for f in recognise(there_and_back)].count("round_hole") == 1


@pytest.mark.parametrize(("part", "beyond", "count"), [(fork, 20.1, 2), (fork, 19.9, 1), (frame, 40.1, 2)])
def test_beyond_a_limit_it_is_the_other(part: Callable[[float], Body], beyond: float, count: int) -> None:
    found = [f for f in recognise(part(beyond)) if f.class_ == "round_hole" or (f.width == pytest.approx(10))]
    assert len(found) == count
