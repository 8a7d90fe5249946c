"""A cutter of the hole's own size: it stands in one point, which no scan line meets. Closed forms stand beside."""

import json
import math

import pytest

from examples import shapes
from tests.support import trial
from tests.support.filleted import filleted_at
from worker.field import second_opinion
from worker.inputs import read_inputs
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.stepio import write_step
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve

DEPTH = 10.5


def plan(diameter: float) -> dict[str, object]:
    hole = [{"class": "round_hole", "diameter": diameter}]
    jaws = {"jaw_axis": "X", "jaw_width": 60, "jaw_height": 30, "jaw_thickness": 20, "max_opening": 90}
    return {
        "plan_version": 1,
        "name": "a flat hole in a side",
        "units": "mm",
        "workpiece": {"rawpiece": {"box": {"min": [0, 0, 0], "max": [59, 40, 37]}}},
        "tools": [
            {"id": "D", "type": "twist_drill", "DC": diameter, "SIG": 118, "LU": 30, "stickout": 40},
            {"id": "E", "type": "endmill", "DC": diameter, "APMX": 12, "LU": 13, "stickout": 20},
        ],
        "setups": [
            {
                "id": "S1",
                "origin": {"location": [0, 0, 0], "axis": [0, -1, 0], "ref_direction": [0, 0, 1]},
                "workholding": {"type": "vise", "parallel_height": 10, "clamping_force": 9000, **jaws},
                "workingsteps": [
                    {"id": "10", "operation": "drilling", "tool": "D", "features": hole},
                    {"id": "20", "operation": "bottom_and_side_finish_milling", "tool": "E", "features": hole},
                ],
            }
        ],
    }


@pytest.mark.parametrize("diameter", [4.0, 5.0, 6.0])
def test_a_flat_hole_is_plunged_with_a_cutter_of_its_own_size(diameter: float) -> None:
    part = cut(box((0, 0, 0), (59, 40, 37)), [cylinder((11, -1, 18), (11, DEPTH, 18), diameter)])
    inputs = read_inputs(write_step(part, "mm", "part"), json.dumps(plan(diameter)).encode(), {})
    resolved = resolve(inputs.plan, inputs.part.features, on_feature_of(inputs.part))
    stages = cut_all(inputs, resolved, lambda _: None)
    (found,) = second_opinion(inputs.plan, inputs.part, stages)
    exact = 59 * 40 * 37 - math.pi / 4 * diameter**2 * DEPTH
    cone = math.pi / 12 * diameter**3 / 2 / math.tan(math.radians(59))
    assert found.solid_volume == pytest.approx(exact, rel=1e-9)
    assert found.agrees and not found.borrowed
    assert abs(found.field_volume - exact) < min(found.bound, cone / 3)


def test_a_cutter_as_wide_as_the_flat_of_a_rounded_bottom_sinks_to_it() -> None:
    """A hole of 16, 12 deep, its bottom rounded by 2: above the round the cutter of 12 goes about, below it is sunk."""
    hole = shapes.cut(shapes.box((-20, -20, -20), (20, 20, 0)), shapes.cylinder((0, 0, -12), (0, 0, 1), 16))
    part = filleted_at(hole, 2.0, lambda x, y, z: abs(z + 12) < 1e-6 and math.hypot(x, y) < 9)
    work = trial.step("bottom_and_side_finish_milling", trial.tool("endmill", 12), {"class": "round_hole"})
    document = trial.plan(trial.raw_box((-20, -20, -20), (20, 20, 0)), trial.setup([work], location=[0, 0, 0]))
    inputs = trial.inputs(part, document)
    resolved = resolve(inputs.plan, inputs.part.features, on_feature_of(inputs.part))
    (found,) = second_opinion(inputs.plan, inputs.part, cut_all(inputs, resolved, lambda _: None))
    assert found.agrees and not found.borrowed
    assert found.field_volume == pytest.approx(32000 - math.pi * (64 * 10 + 36 * 2), abs=found.bound)


@pytest.mark.parametrize("bored", [True, False])
def test_a_groove_along_a_bore_is_milled_with_a_cutter_of_its_own_size(bored: bool) -> None:
    """Its circle of 4 has its middle on the bore's wall of 20: the lips, 2 * 2^2 / 20 nearer to the bore's middle,
    are narrower than the cutter. What two circles share is two segments."""
    part = cut(box((0, 0, 0), (40, 40, 12)), [cylinder((20, 20, -1), (20, 20, 13), 20)])
    part = cut(part, [cylinder((30, 20, -1), (30, 20, 13), 4)])
    bore = trial.step("drilling", trial.tool("twist_drill", 20, SIG=118, LU=60), {"class": "round_hole"})
    groove = trial.step("bottom_and_side_finish_milling", trial.tool("endmill", 4), {"class": "slot"})
    works = [{**bore, "overcut_length": 1}, groove] if bored else [groove]
    document = trial.plan(trial.raw_box((0, 0, 0), (40, 40, 12)), trial.setup(works))
    found = trial.inputs(write_step(part, "mm", "part"), document)
    stages = cut_all(found, resolve(found.plan, found.part.features, on_feature_of(found.part)), lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    shared = 4 * math.acos(0.1) + 100 * math.acos(1 - 2**2 / 200) - math.sqrt(2 * 2 * 18 * 22) / 2
    taken = math.pi * (10**2 + 2**2) - shared if bored else math.pi * 2**2
    assert opinion.solid_volume == pytest.approx(40 * 40 * 12 - taken * 12, abs=0.1)
    assert opinion.agrees and not opinion.borrowed
