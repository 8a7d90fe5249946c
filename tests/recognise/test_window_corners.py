"""Windows whose corners that stand out are rounded too: each is one, as large as drawn. Sizes in mm."""

from __future__ import annotations

import math

import pytest

from schemas.feature import Feature
from tests.recognise.parts import chamfered, prism, rounded
from tests.support.agreed import agreed
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from tests.support.trial import cut_volume, plan, raw_box, setup, step, tool
from worker.kernel.boolean import cut
from worker.kernel.primitives import box
from worker.kernel.shape import Body

Corners = list[tuple[float, float]]

PLATE = box((0, 0, 0), (20, 80, 60))
L: Corners = [(20, 15), (60, 15), (60, 30), (45, 30), (45, 45), (20, 45)]
U: Corners = [(20, 15), (60, 15), (60, 45), (48, 45), (48, 27), (32, 27), (32, 45), (20, 45)]
CROSS: Corners = [(30, 10), (50, 10), (50, 22), (65, 22), (65, 38), (50, 38), (50, 50), (30, 50), (30, 38), (15, 38)]
CROSS += [(15, 22), (30, 22)]


def window(corners: Corners, radius: float) -> Body:
    return rounded(prism(corners, -1, 21), radius, lambda a, b: abs(a[0] - b[0]) > 20)


def recesses(body: Body) -> list[Feature]:
    return [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature", "chamfer")]


@pytest.mark.parametrize(("corners", "wanted"), [(L, (40, 30)), (U, (40, 30)), (CROSS, (50, 40))])
@pytest.mark.parametrize("broken", [False, True])
def test_a_window_with_all_corners_rounded_is_one_closed_pocket(
    corners: Corners, wanted: tuple[float, float], broken: bool
) -> None:
    """Also where its mouth is broken: corners then end at the chamfer."""
    body = cut(PLATE, [window(corners, 3)])
    if broken:
        body = chamfered(body, 0.5, lambda a, b: a[0] == b[0] == 20 and 1 < a[1] < 79 and 1 < a[2] < 59)
    (found,) = recesses(body)
    assert (found.class_, found.bottom, found.open_sides) == ("closed_pocket", "through", 0)
    assert (found.length, found.width, found.depth) == pytest.approx((*wanted, 20))
    assert found.orthogonal_radius == pytest.approx(3)
    assert set(found.access) == {(-1, 0, 0), (1, 0, 0)}


def test_corners_of_the_outline_stay_its_own() -> None:
    """Rounded outer corners of the plate, and of a block beside the window, are none of the window's."""
    body = cut(rounded(PLATE, 5, lambda a, b: abs(a[0] - b[0]) > 19), [window(L, 3)])
    (found,) = recesses(body)
    assert found.class_ == "closed_pocket" and len(found.faces) == 12


def test_such_a_window_is_cut_as_large_as_drawn() -> None:
    """L of 40 x 15 and 25 x 15: five corners of 3 keep (1 - pi/4) 9 of metal each, the sixth gives as much."""
    part = cut(PLATE, [window(L, 3)]).wrapped
    work = step("bottom_and_side_rough_milling", tool("endmill", 6), {"class": "closed_pocket"})
    stage = agreed(part, plan(raw_box((0, 0, 0), (20, 80, 60)), setup([work], axis=(1, 0, 0))))
    area = 40 * 15 + 25 * 15 - 4 * (1 - math.pi / 4) * 9
    assert cut_volume(stage.cuts[0]) == pytest.approx(20 * area, abs=0.01)


def test_it_is_the_same_when_rewritten() -> None:
    same_when_rewritten(cut(PLATE, [window(L, 3)]), 3)
