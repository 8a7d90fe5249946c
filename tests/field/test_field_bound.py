"""How far the two computations may be apart on whole plans: a bound that shows a defect of 3e-4 of the metal."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from worker.field import second_opinion
from worker.field.clearing import CORNER_SHARE, _doubt
from worker.field.ground import beyond
from worker.field.plane import Everywhere, known
from worker.field.tight import Opened
from worker.inputs import read_inputs
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("name", ["spindle_nose", "valve_body"])
def test_examples_agree_within_a_narrow_bound(name):
    """A turned part from a round bar, and a prismatic one from a block."""
    home = EXAMPLES / name
    files = {path.stem: path.read_bytes() for path in home.glob("*.step") if path.stem != "part"}
    found = read_inputs((home / "part.step").read_bytes(), (home / "plan.json").read_bytes(), files)
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    for opinion in second_opinion(found.plan, found.part, stages):
        assert opinion.borrowed == ()
        assert opinion.agrees, (opinion.setup, opinion.difference, opinion.bound)
        assert opinion.relative_bound < 3e-4
        assert opinion.relative_difference < 1e-4


def test_what_a_cutter_leaves_past_the_metal_is_in_no_doubt():
    """A field without end of which the cutter takes all past x = 3: of the metal's 10 x 10 it leaves 3 x 10."""
    at = np.arange(0.25, 10.0, 0.5)
    scene = SimpleNamespace(room=(0.0, 0.0, 10.0, 10.0), scan_lines=(at, at))
    free, covered = (known(region, (at, at)) for region in (Everywhere(), beyond((3.0, 0.0), (1.0, 0.0))))
    doubt, missed = _doubt(scene, free, covered, Opened(Everywhere(), 4.0, ()))
    assert doubt == pytest.approx(CORNER_SHARE * 30.0)
    assert missed == 0.0
