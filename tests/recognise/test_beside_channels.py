"""What opens into the foot of a T-slot from the side; sizes are those that the tools were drawn with."""

from __future__ import annotations

import pytest

from schemas.base import Vec3
from tests.recognise.parts import t_slot
from tests.support.recognised import recognise
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import cut
from worker.kernel.primitives import box

FRONT, RIGHT, UP = (0.0, -1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
Box = tuple[Vec3, Vec3]


@pytest.mark.parametrize(
    ("tool", "class_", "sizes", "ways"),
    [
        (((40, -1, 8), (60, 25, 24)), "closed_pocket", (20, 16, 25), {FRONT}),  # higher than the foot both ways
        (((40, -1, 11), (60, 19.5, 26)), "closed_pocket", (20, 15, 19.5), {FRONT}),  # level with its floor
        (((40, -1, 6), (60, 26, 20)), "closed_pocket", (20, 14, 26), {FRONT}),  # level with its roof
        (((85, -1, 11), (101, 22, 20)), "slot", (19, 9, 15), {RIGHT, FRONT}),  # a notch as high as the foot
        (((85, -1, 11), (101, 19.5, 41)), "step", (19.5, 15, 29), {RIGHT, FRONT, UP}),  # ... up to the top
    ],
)
def test_a_cut_into_the_side_of_a_t_slot_is_told_with_its_own_size(
    tool: Box, class_: str, sizes: Vec3, ways: set[Vec3]
) -> None:
    """The foot reaches from y = 19 to 41 and from z = 11 to 20; the T-slot itself is told as without the cut."""
    body = cut(t_slot(), [box(*tool)])
    found = [f for f in recognise(body) if f.class_ not in ("planar_face", "profile_feature")]
    tee, other = sorted(found, key=lambda f: f.undercut is None)
    assert (tee.class_, tee.length, tee.width, tee.depth) == ("slot", *(pytest.approx(x) for x in (100, 22, 29)))
    assert tee.undercut and (other.class_, set(other.access)) == (class_, ways)
    assert (other.length, other.width, other.depth) == pytest.approx(sizes)
    same_when_rewritten(body, 3)
