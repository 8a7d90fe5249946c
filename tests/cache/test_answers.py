"""Whole answers: given again without a child, each tenant's for itself, none where a shop's rules cannot be told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import worker.cache.plugins as plugins
import worker.job as job
from schemas.problem import Problem
from service.settings import Settings
from service.work.compute import cache_of
from tests.support.plate import on_plate, plate
from worker.cache.code import CODE
from worker.cache.results import CODE_PART, Answer, Results
from worker.cache.store import Place

PLAN = json.dumps(on_plate()).encode()


def no_child(*_: Any) -> Any:
    raise AssertionError("a child was started")


def test_the_same_check_is_answered_again_without_a_child(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = Place(str(tmp_path), b"key")
    bare = job.run_check(plate(), PLAN, {})
    first = job.run_check(plate(), PLAN, {}, cache=place)
    monkeypatch.setattr(job, "_call", no_child)
    again = job.run_check(plate(), PLAN, {}, cache=place)
    assert (bare.report, bare.stages, bare.extras) == (first.report, first.stages, first.extras)
    assert (again.report, again.stages, again.extras) == (first.report, first.stages, first.extras)
    for other in (PLAN + b" ", PLAN.replace(b'"EM8"', b'"EM9"')):
        with pytest.raises(AssertionError, match="a child"):
            job.run_check(plate(), other, {}, cache=place)
    with pytest.raises(AssertionError, match="a child"):
        job.run_check(plate(), PLAN, {}, extras=("report.html",), cache=place)
    with pytest.raises(AssertionError, match="a child"):
        job.run_check(plate(), PLAN, {}, cache=Place(str(tmp_path), b"another key"))


def test_a_refusal_is_not_kept(tmp_path: Path) -> None:
    for _ in range(2):
        with pytest.raises(Problem):
            job.run_check(plate(), b"{}", {}, cache=Place(str(tmp_path)))
    assert not [p for p in tmp_path.rglob("*") if p.is_file()]


def answers(results: Results, name: str | None, code: str) -> tuple[bytes, bytes]:
    """What is answered first, and what to the same question when the computation would say something else."""

    def computed(word: bytes) -> Answer:
        return {"report": word, CODE_PART: code.encode()}, 7

    first, _ = results.answer(name, lambda: computed(b"first"))
    second, _ = results.answer(name, lambda: computed(b"second"))
    assert CODE_PART not in first
    return first["report"], second["report"]


def test_only_the_code_that_named_an_answer_may_give_it(tmp_path: Path) -> None:
    results = Results(Place(str(tmp_path)))
    name = results.name(b"part", b"plan", {}, ())
    assert answers(results, name, "of a server from before an upgrade") == (b"first", b"second")
    assert answers(results, name, CODE) == (b"first", b"first")


def test_files_and_extras_are_told_apart(tmp_path: Path) -> None:
    results = Results(Place(str(tmp_path)))
    names = [
        results.name(b"p", b"q", {}, ()),
        results.name(b"q", b"p", {}, ()),
        results.name(b"p", b"q", {"a": b"x"}, ()),
        results.name(b"p", b"q", {"b": b"x"}, ()),
        results.name(b"p", b"q", {"a": b"y"}, ()),
        results.name(b"p", b"q", {"a": b"x", "b": b"x"}, ()),
        results.name(b"p", b"q", {}, ("report.html",)),
    ]
    assert len(set(names)) == len(names) and None not in names


class Distribution:
    """A shop's installed package, as far as the cache looks at it."""

    def __init__(self, folder: Path, files: list[str], url: str | None = None) -> None:
        self._folder, self._files, self._url = folder, files, url

    @property
    def files(self) -> list[Any]:
        from importlib.metadata import PackagePath

        found = [PackagePath(name) for name in self._files]
        for path in found:
            path.dist = self  # type: ignore[assignment]
        return found

    def locate_file(self, path: Any) -> Path:
        return self._folder / str(path)

    def read_text(self, name: str) -> str | None:
        return self._url


class Point:
    """An entry point of that package."""

    name, value, module = "deep", "house.deep:deep", "house.deep"

    def __init__(self, dist: Distribution | None) -> None:
        self.dist = dist


def told(monkeypatch: pytest.MonkeyPatch, dist: Distribution | None) -> str | None:
    monkeypatch.setattr(plugins, "entry_points", lambda group: [Point(dist)])
    return plugins.plugged_in()


def test_a_shops_rule_is_known_by_its_files_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rule = tmp_path / "house" / "deep.py"
    rule.parent.mkdir()
    rule.write_text("LIMIT = 4")
    whole = Distribution(tmp_path, ["house/deep.py"])
    first = told(monkeypatch, whole)
    assert first is not None and first == told(monkeypatch, whole)
    rule.write_text("LIMIT = 5")
    assert told(monkeypatch, whole) not in (None, first)
    edited = '{"dir_info": {"editable": true}, "url": "file:///shop"}'
    listed = ["house/deep.py"]
    unknown = [
        None,
        Distribution(tmp_path, listed, edited),
        Distribution(tmp_path, listed, "["),
        Distribution(tmp_path, ["house.pth"]),
        Distribution(tmp_path, [*listed, "house/gone.py"]),
    ]
    assert [told(monkeypatch, dist) for dist in unknown] == [None] * len(unknown)
    assert Results(Place(str(tmp_path / "cache"))).name(b"p", b"q", {}, ()) is None
    assert answers(Results(Place(str(tmp_path / "cache"))), None, CODE) == (b"first", b"second")


def test_each_tenant_has_a_key_of_its_own(tmp_path: Path) -> None:
    settings = Settings(data=tmp_path, secret="master")  # type: ignore[arg-type]
    places = [cache_of(settings, tenant) for tenant in ("a", "b", "a")]
    assert places[0] == places[2] != places[1]
    assert places[0] is not None and places[1] is not None and len(places[0].key) == 32
    other = cache_of(Settings(data=tmp_path, secret="other"), "a")  # type: ignore[arg-type]
    assert other is not None and other.key != places[0].key
    assert cache_of(Settings(data=tmp_path, cache_mb=0), "a") is None
