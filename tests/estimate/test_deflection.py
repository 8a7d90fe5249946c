"""Tip deflection: y = F l^3 / (3 E I) as printed in a tool maker's course on end mills, values worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from schemas.plan import Workingstep
from schemas.tool import Tool
from worker.estimate.deflection import CARBIDE, STEEL, bar_deflection, tip_deflection
from worker.estimate.geometry import CutSizes
from worker.estimate.times import estimate_step


def mill(**sizes: float) -> Tool:
    return Tool.model_validate({"id": "T", "type": "endmill", "DC": 10.0, "LU": 40.0, "stickout": 40.0, **sizes})


@pytest.mark.parametrize(
    ("length", "diameter", "modulus", "expected"),
    [
        (40.0, 10.0, CARBIDE, 0.014487),  # F 200 N, l 40, carbide at its full diameter
        (40.0, 8.0, CARBIDE, 0.035368),  # at 0.8 DC, as a fluted cutter bends
        (40.0, 10.0, STEEL, 0.04139),  # the same of high speed steel
        (80.0, 10.0, CARBIDE, 0.115893),  # twice the stick-out: eight times the deflection
    ],
)
def test_a_round_bar(length: float, diameter: float, modulus: float, expected: float) -> None:
    assert bar_deflection(200.0, length, diameter, modulus) == pytest.approx(expected, rel=1e-4)


def test_a_cutter_fluted_up_to_its_holder_bends_as_a_bar_of_four_fifths() -> None:
    assert tip_deflection(mill(), 200.0) == pytest.approx(0.035368, rel=1e-4)
    assert tip_deflection(mill(), 200.0, STEEL) == pytest.approx(0.035368 * 600 / 210, rel=1e-4)


@pytest.mark.parametrize(
    ("sizes", "thin"), [({"LU": 22.0}, 8.0), ({"LU": 22.0, "DMM": 16.0}, 8.0), ({"DN": 6.0, "LU": 25.0}, 6.0)]
)
def test_a_stepped_cutter_bends_as_the_beam_equation_says(sizes: dict[str, float], thin: float) -> None:
    """Tip = integral of F x^2 / (E I(x)) dx from the tip up (Castigliano), summed in 200,000 slices."""
    tool = mill(**sizes)
    assert tool.LU is not None
    x = (np.arange(200_000) + 0.5) * tool.stickout / 200_000
    diameter = np.where(x < tool.LU, thin, tool.shank_diameter)
    slices = 200.0 * x**2 / (CARBIDE * np.pi * diameter**4 / 64)
    assert tip_deflection(tool, 200.0) == pytest.approx(float(slices.sum() * tool.stickout / 200_000), rel=1e-4)


def test_it_is_told_of_a_mill_as_an_estimate_and_not_of_a_drill() -> None:
    data = {"spindle_speed": 3820.0, "feed_per_tooth": 0.05, "axial_cutting_depth": 5.0, "radial_cutting_depth": 4.0}
    work = {"id": "10", "tool": "T", "features": ["x"], "technology": data}
    step = Workingstep.model_validate(work | {"operation": "side_rough_milling"})
    found = estimate_step(step, mill(NOF=4), None, CutSizes(1000.0, (50.0, 4.0, 5.0)))
    assert found.values["deflection_mm"] == pytest.approx(0.035368 * found.values["side_force_n"] / 200, rel=1e-4)
    assert any("cantilever" in note for note in found.time.assumptions)
    drill = Tool.model_validate({"id": "T", "type": "twist_drill", "DC": 8.5, "LU": 40.0, "stickout": 60.0})
    plunge = estimate_step(Workingstep.model_validate(work | {"operation": "drilling"}), drill, None, CutSizes(1.0))
    assert "deflection_mm" not in plunge.values
    assert not any("cantilever" in note for note in plunge.time.assumptions)
