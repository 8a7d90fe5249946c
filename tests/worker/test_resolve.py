"""Selectors: what matches, what is refused, and with which words (contract: features named by id or selector)."""

from __future__ import annotations

import json
from typing import Any

import pytest

from schemas.base import Frame, Vec3
from schemas.feature import Feature
from schemas.plan import read_plan
from schemas.problem import Problem
from tests.support.plans import plan_bytes
from worker.resolve import resolve

UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)


def hole(id: str, diameter: float, x: float, depth: float = 20.0, parent: str | None = None) -> Feature:
    place = Frame(location=(x, 0.0, 20.0))
    return Feature(
        id=id, class_="round_hole", faces=(1,), placement=place, diameter=diameter, depth=depth, parent=parent
    )


FEATURES = (
    hole("round_hole-a", 6.6, 10.0),
    hole("round_hole-b", 6.6, 30.0, depth=10.0),
    hole("round_hole-c", 11.0, 50.0, parent="counterbore_hole-d"),
    Feature(id="counterbore_hole-d", class_="counterbore_hole", faces=(1, 2),
            placement=Frame(location=(50.0, 0.0, 20.0)), diameter=6.6, depth=20.0, elements=("round_hole-c",)),
    Feature(id="planar_face-up", class_="planar_face", faces=(3,), placement=Frame(axis=UP)),
    Feature(id="planar_face-down", class_="planar_face", faces=(4,), placement=Frame(axis=DOWN)),
    Feature(id="profile_feature-z", class_="profile_feature", faces=(5,), placement=Frame(axis=UP)),
    Feature(id="profile_feature-x", class_="profile_feature", faces=(6,),
            placement=Frame(axis=(1.0, 0.0, 0.0), ref_direction=UP)),
    Feature(id="boss-q", class_="boss", faces=(7,), placement=Frame(axis=UP)),
)  # fmt: skip


def near(feature: Feature, point: Vec3) -> bool:
    return abs(feature.placement.location[0] - point[0]) < 1.0


def chosen(*selectors: Any) -> list[str]:
    """Of a milling step, which may make any of them."""
    document = json.loads(plan_bytes(features=list(selectors), operation="bottom_and_side_rough_milling"))
    document["tools"] = [{"id": "T1", "type": "endmill", "DC": 6.6, "APMX": 50, "stickout": 60}]
    plan = read_plan(json.dumps(document).encode())
    return [f.id for f in resolve(plan, FEATURES, near)["S1"][0].features]


@pytest.mark.parametrize(
    ("selector", "ids"),
    [
        ("round_hole-b", ["round_hole-b"]),
        ({"class": "round_hole", "diameter": 6.6}, ["round_hole-a", "round_hole-b"]),
        ({"class": "round_hole"}, ["round_hole-a", "round_hole-b", "round_hole-c"]),  # a compound's elements too
        ({"diameter": 6.6, "at": [50, 0, 0]}, ["counterbore_hole-d"]),
        ({"at": [50, 0, 0]}, ["counterbore_hole-d"]),  # and not its element
        ({"diameter": 11}, ["round_hole-c"]),  # nothing but an element has that size
        ({"class": "planar_face", "normal": [0, 0, 2]}, ["planar_face-up"]),
        ({"class": "round_hole", "depth_max": 12}, ["round_hole-b"]),
        ({"class": "round_hole", "depth_min": 20, "diameter": 6.6}, ["round_hole-a"]),
        ({"class": "round_hole", "axis": [0, 0, -1], "count": 3}, ["round_hole-a", "round_hole-b", "round_hole-c"]),
        ({"class": "profile_feature"}, ["profile_feature-z"]),  # the one round the setup's axis
        ({"class": "profile_feature", "axis": [1, 0, 0]}, ["profile_feature-x"]),
    ],
)
def test_a_selector_picks_what_it_says(selector: Any, ids: list[str]) -> None:
    assert chosen(selector) == ids


def test_several_selectors_name_a_feature_once() -> None:
    assert chosen("round_hole-a", {"class": "round_hole", "at": [10, 0, 0]}) == ["round_hole-a"]


@pytest.mark.parametrize(
    ("selector", "words"),
    [
        ({"class": "round_hole", "diameter": 6.5}, "round_hole-a (round_hole ø6.6 mm at 10, 0, 20)"),
        ({"class": "round_hole", "diameter": 6.6, "count": 3}, "2 features match, 'count' says 3"),
        ("round_hole-z", "Nearest: round_hole-a, round_hole-b, round_hole-c"),
        ({"class": "boss"}, "never cut itself"),
    ],
)
def test_what_does_not_fit_is_refused_with_place_and_candidates(selector: Any, words: str) -> None:
    with pytest.raises(Problem) as caught:
        chosen("round_hole-a", selector)
    assert caught.value.type == "plan.selector"
    assert caught.value.pointer == "/setups/0/workingsteps/0/features/1"
    assert words in caught.value.sentence()


def test_steps_that_are_switched_off_are_checked_but_not_run() -> None:
    plan = read_plan(plan_bytes(features=["round_hole-a"], enabled=False))
    assert resolve(plan, FEATURES, near)["S1"] == ()
    with pytest.raises(Problem):
        resolve(read_plan(plan_bytes(features=["nothing"], enabled=False)), FEATURES, near)


def test_a_place_alone_means_what_the_operation_makes() -> None:
    """A hole and a pocket lie there: the drill is for the hole."""
    pocket = Feature(
        id="closed_pocket-p", class_="closed_pocket", faces=(8,), placement=Frame(location=(10.0, 0.0, 20.0))
    )
    plan = read_plan(plan_bytes(features=[{"at": [10, 0, 20]}]))
    assert [f.id for f in resolve(plan, (FEATURES[0], pocket), near)["S1"][0].features] == ["round_hole-a"]
