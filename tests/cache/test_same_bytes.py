"""A check with what earlier checks left gives the very bytes of a check without: for each single edit of a plan."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from schemas.problem import Problem
from schemas.report import report_bytes, report_document
from tests.support import examples
from tests.support.edits import edits, full_plan
from tests.support.plate import plate
from worker.cache import kept as kept_module
from worker.cache.kept import Kept
from worker.cache.store import Place, Store
from worker.pipeline import check_plan

Json = dict[str, Any]
EDITS = edits(full_plan())
SAMPLE = 5
"""Edits looked at in one run of the tests, another choice for each name below; all of them are some 200."""


class Watched(Store):
    """A store that says which kinds of values it had, and which it was asked for in vain, in order."""

    def __init__(self, place: Place) -> None:
        super().__init__(place)
        self.kinds: dict[str, str] = {}
        self.had: list[str] = []
        self.lacked: list[str] = []

    def name(self, kind: str, *parts: bytes | str) -> str:
        found = super().name(kind, *parts)
        self.kinds[found] = kind
        return found

    def get(self, name: str) -> bytes | None:
        found = super().get(name)
        (self.had if found is not None else self.lacked).append(self.kinds[name])
        return found


def outcome(part: bytes, plan: Json, kept: Kept, files: Mapping[str, bytes] | None = None) -> tuple[object, ...]:
    """Report and stages as bytes, or the refusal."""
    try:
        checked = check_plan(part, json.dumps(plan).encode(), files or {}, None, kept)
    except Problem as problem:
        return (problem.document(),)
    return report_bytes(report_document(checked.report)), dict(checked.stages)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    """A cache that has seen the plan as it stands."""
    place = Place(str(tmp_path_factory.mktemp("cache")))
    outcome(plate(), full_plan(), Kept(Store(place)))
    yield place


def test_the_plan_as_it_stands_finds_everything(filled: Place) -> None:
    store = Watched(filled)
    assert outcome(plate(), full_plan(), Kept(store)) == outcome(plate(), full_plan(), Kept())
    assert store.had == ["part", "stage", "stage", "taken", "taken", "reach", "reach", "opinions", "step", "step"]
    assert not store.lacked


@pytest.mark.parametrize("seed", range(SAMPLE))
def test_an_edited_plan_gives_the_same_bytes(filled: Place, seed: int) -> None:
    words, plan = random.Random(1000 + seed).choice(EDITS[seed::SAMPLE])
    assert outcome(plate(), plan, Kept(Store(filled))) == outcome(plate(), plan, Kept()), words


def test_an_edit_of_the_last_setup_leaves_the_first_one_as_it_was(filled: Place) -> None:
    plan = full_plan()
    plan["setups"][1]["workingsteps"][0]["allowance_bottom"] = 0.71
    store = Watched(filled)
    outcome(plate(), plan, Kept(store))
    assert [k for k in store.had if k != "field"] == ["part", "stage", "taken", "probes", "reach", "step"]
    assert [k for k in store.lacked if k != "field"] == ["stage", "taken", "reach", "opinions", "step"]


def test_an_edit_that_moves_no_plane_leaves_the_field_of_the_setups_before(filled: Place) -> None:
    plan = full_plan()
    plan["tools"].append({**plan["tools"][2], "id": "FM2", "stickout": 55})
    for step in plan["setups"][1]["workingsteps"]:
        step["tool"] = "FM2"
    store = Watched(filled)
    assert outcome(plate(), plan, Kept(store)) == outcome(plate(), plan, Kept())
    assert store.had == ["part", "stage", "taken", "probes", "reach", "field", "step"]
    assert store.lacked == ["stage", "taken", "reach", "opinions", "step"]


def test_an_edit_of_the_first_setup_that_leaves_its_metal_leaves_the_last_one(filled: Place) -> None:
    plan = full_plan()
    plan["setups"][0]["instructions"] = "wipe the bars"
    store = Watched(filled)
    outcome(plate(), plan, Kept(store))
    assert store.had == ["part", "stage", "probes", "taken", "reach", "step"]
    assert store.lacked == ["stage", "taken", "reach", "opinions", "field", "step"]


def test_another_part_finds_nothing(filled: Place) -> None:
    """Even one that differs only in its file's words."""
    store = Watched(filled)
    outcome(plate().replace(b"plate", b"plata"), full_plan(), Kept(store))
    assert store.had == []


def test_a_named_file_is_known_by_its_content(tmp_path: Path) -> None:
    """The spindle's strap and vee: the same plan with another vee must not find the old one's setup."""
    name = "spindle_nose"
    part, plan, files = examples.part_bytes(name), examples.document(name), examples.files(name)
    kept = Kept(Store(Place(str(tmp_path))))
    outcome(part, plan, kept, files)
    changed = files | {"vee": files["strap"]}
    store = Watched(Place(str(tmp_path)))
    assert outcome(part, plan, Kept(store), changed) == outcome(part, plan, Kept(), changed)
    assert store.had.count("stage") == 2 and store.lacked.count("stage") == 1  # the setup that names the vee


def test_other_code_finds_nothing(filled: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("worker.cache.code.CODE", "another")
    store = Watched(filled)
    outcome(plate(), full_plan(), Kept(store))
    assert store.had == []


def test_what_cannot_be_read_is_computed(filled: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whole bytes that the decoder chokes on are as good as none."""
    expected = outcome(plate(), full_plan(), Kept())
    monkeypatch.setattr(kept_module, "decoded", _choking(kept_module.decoded))
    assert outcome(plate(), full_plan(), Kept(Store(filled))) == expected


def _choking(decoded: Any) -> Any:
    calls = []

    def choke(*arguments: Any) -> Any:
        calls.append(1)
        if len(calls) % 2:  # every value: first what was kept, then what was computed in its stead
            raise KeyError("choked")
        return decoded(*arguments)

    return choke


def test_what_cannot_be_written_is_handed_on(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    store = Store(Place(str(tmp_path)))
    odd = object()
    assert Kept(store).value("odd", ["a"], lambda: odd) is odd
    assert not list(tmp_path.rglob("*"))


def test_what_the_kernel_noted_is_noted_again(tmp_path: Path) -> None:
    from worker.kernel.journal import journal, note

    def noting() -> str:
        note("tried twice")
        return "done"

    for _ in range(2):
        with journal() as notes:
            note("before")
            assert Kept(Store(Place(str(tmp_path)))).value("noted", ["a"], noting) == "done"
        assert notes == ["before", "tried twice"]
