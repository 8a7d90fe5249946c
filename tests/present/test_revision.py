"""Revisions compared on hand-made documents: each difference is one that was put in."""

from __future__ import annotations

from typing import Any

import pytest

from tests.support.documents import FINDINGS, STICKOUT, document
from worker.present.difference import difference_text
from worker.revision import compare_revisions, match_features

BOX = {"min": [0.0, 0.0, 0.0], "max": [100.0, 60.0, 30.0]}


def hole(id: str, x: float, y: float, diameter: float, axis: tuple[float, float, float] = (0, 0, 1)) -> dict[str, Any]:
    placement = {"location": [x, y, 30.0], "axis": list(axis), "ref_direction": [1.0, 0.0, 0.0]}
    return {"id": id, "class": "round_hole", "placement": placement, "diameter": diameter, "depth": 30.0}


def part(*features: dict[str, Any]) -> dict[str, Any]:
    return {"features": list(features), "bounding_box": BOX}


def test_the_same_part_has_no_difference() -> None:
    made = part(hole("a", 10, 10, 6), hole("b", 90, 10, 6))
    found = compare_revisions(made, made, document(), document())
    assert found["features"] == {"same": 2, "changed": [], "gone": [], "new": []}
    assert found["setups"] == []
    assert found["findings"] == {"new": [], "gone": []}


def test_a_hole_that_grew_is_changed_and_one_that_went_is_gone() -> None:
    old = part(hole("a", 10, 10, 6.0), hole("b", 90, 10, 6.0))
    new = part(hole("c", 10, 10, 6.6), hole("d", 50, 50, 4.0))
    found = compare_revisions(old, new, None, None)["features"]
    assert found["changed"] == [{"old": "a", "new": "c", "class": "round_hole", "sizes": {"diameter": [6.0, 6.6]}}]
    assert [f["id"] for f in found["gone"]] == ["b"]
    assert [f["id"] for f in found["new"]] == ["d"]


def test_a_hole_that_moved_a_little_is_the_same_hole() -> None:
    found = compare_revisions(part(hole("a", 10, 10, 6.0)), part(hole("b", 12, 10, 6.0)), None, None)["features"]
    assert found["changed"] == [{"old": "a", "new": "b", "class": "round_hole", "sizes": {}, "moved": [2.0, 0.0, 0.0]}]


@pytest.mark.parametrize("other", [hole("b", 60, 10, 6.0), hole("b", 10, 10, 6.0, (0, 0, -1))])
def test_far_away_or_from_the_other_side_is_another_hole(other: dict[str, Any]) -> None:
    pairs, gone, fresh = match_features(part(hole("a", 10, 10, 6.0)), part(other))
    assert (pairs, len(gone), len(fresh)) == ([], 1, 1)


def test_each_feature_is_matched_once_to_its_nearest() -> None:
    old = part(hole("a", 10, 10, 6.0), hole("b", 16, 10, 6.0))
    new = part(hole("c", 15.5, 10, 6.0), hole("d", 9.5, 10, 6.0))
    pairs, gone, fresh = match_features(old, new)
    assert {(a["id"], b["id"]) for a, b in pairs} == {("a", "d"), ("b", "c")}
    assert gone == fresh == []


def test_the_setups_that_meet_a_changed_feature_are_told() -> None:
    pocket = {**hole("closed_pocket-1", 50, 30, 20.0), "class": "closed_pocket"}
    deeper = {**pocket, "id": "closed_pocket-9", "depth": 40.0}
    report = document()
    report["setups"][0]["workingsteps"][1]["reached"] = ["closed_pocket-9"]
    found = compare_revisions(part(pocket), part(deeper), document(), report)
    assert found["setups"] == [
        {"setup": "S1", "workingstep": "30", "old": ["closed_pocket-1"], "new": ["closed_pocket-9"]}
    ]


def test_findings_follow_a_feature_to_its_new_name() -> None:
    pocket = {**hole("closed_pocket-1", 50, 30, 20.0), "class": "closed_pocket"}
    deeper = {**pocket, "id": "closed_pocket-9", "depth": 40.0}
    renamed = STICKOUT.model_copy(update={"features": ("closed_pocket-9",)})
    found = compare_revisions(
        part(pocket), part(deeper), document(findings=(STICKOUT,)), document(findings=(renamed, FINDINGS[3]))
    )
    assert [f["code"] for f in found["findings"]["new"]] == ["left.feature"]
    assert found["findings"]["gone"] == []


def test_the_text_tells_all_of_it() -> None:
    old, new = part(hole("a", 10, 10, 6.0), hole("b", 90, 10, 6.0)), part(hole("c", 10, 10, 6.6))
    found = compare_revisions(old, new, document(findings=()), document())
    text = difference_text(found, "mm")
    for told in ("old revision: pass", "new revision: fail", "1 changed, 0 new, 1 gone, 0 the same",
                 "a -> c: diameter 6 -> 6.6", "gone     b at (90, 10, 30)", "findings new: 4",
                 "error reach.stickout S1/30"):  # fmt: skip
        assert told in text


def test_a_plan_that_no_longer_fits_is_told() -> None:
    found = compare_revisions(part(), part(), document(), None)
    found["problems"] = {"new": "/setups/0/workingsteps/1/features/0: No feature matches."}
    text = difference_text(found, "mm")
    assert "new revision: the plan cannot be carried out" in text
    assert "No feature matches" in text
    assert "findings" not in text
