"""Passes over one plane share the levels above it: each is opened for a cutter once."""

from __future__ import annotations

import pytest

from examples.shapes import box, fuse
from tests.support.agreed import agreed
from tests.support.trial import FAR_PLATE, plan, raw_box, removals, setup, step, tool
from worker.field import clearing

TOPS = (4.0, 8.0, 12.0, 16.0)


def test_two_passes_over_a_plane_open_each_level_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four posts of 10 x 10 mm on a plate of 80 x 40 x 10, each 4 mm taller than the one before: a mill faces the plate
    down to 2 mm over its top (14 below the tallest post), then to it. Over it lie the levels from 2 and from 0 mm on,
    and four that both passes have. The blank is 2 mm larger all round; by hand the passes take all of it over 2 mm, and
    over 0 mm, but for the posts.
    """
    part = box((0, 0, -10), (80, 40, 0))
    for n, top in enumerate(TOPS):
        part = fuse(part, box((5 + 20 * n, 15, -1), (15 + 20 * n, 25, top)))
    asked: list[object] = []
    opened = clearing.opened
    monkeypatch.setattr(clearing, "opened", lambda *args: asked.append(args) or opened(*args))
    face, mill = {"class": "planar_face", "at": [40, 20, 0]}, tool("endmill", 8)
    steps = [step("plane_rough_milling", mill, face, bottom_z=-14), step("plane_finish_milling", mill, face)]
    blank = raw_box((-2, -2, -10), (82, 42, 18))
    stage = agreed(part, plan(blank, setup(steps, workholding=FAR_PLATE)))
    first = 84 * 44 * 16 - 100 * sum(top - 2 for top in TOPS)
    assert removals(stage) == pytest.approx([first, (84 * 44 - 400) * 2], rel=1e-9)
    assert len(asked) == 6
