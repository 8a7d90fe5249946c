"""The store: what is whole and ours comes back, everything else is absent, nothing is ever an error."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from worker.cache.store import MARK, Place, Store, keep_tidy, unpacked

CONTENT = bytes(range(256)) * 8


def place(folder: Path, **keys: object) -> Place:
    return Place(str(folder), **keys)  # type: ignore[arg-type]


def only_file(folder: Path) -> Path:
    (found,) = (p for p in folder.rglob("*") if p.is_file())
    return found


def test_what_was_put_is_found_by_the_same_name_alone(tmp_path: Path) -> None:
    store = Store(place(tmp_path / "deep" / "cache"))
    name = store.name("stage", "a", b"b")
    assert store.get(name) is None
    store.put(name, CONTENT)
    assert store.get(name) == CONTENT
    others = [
        ("stage", "ab", b""),
        ("stage", "a"),
        ("stage", b"b", "a"),
        ("reach", "a", b"b"),
        ("stage", "a", "b", ""),
    ]
    assert all(store.get(store.name(*other)) is None for other in others)


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda data: b"",
    "truncated": lambda data: data[:-1],
    "head alone": lambda data: data[: len(MARK)],
    "longer": lambda data: data + b"\0",
    "one bit": lambda data: data[:100] + bytes([data[100] ^ 1]) + data[101:],
    "other mark": lambda data: b"x" + data[1:],
    "checksum": lambda data: data[: len(MARK)] + bytes(32) + data[len(MARK) + 32 :],
    "foreign": lambda data: b"ISO-10303-21;\n" * 50,
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_entry_is_absent(tmp_path: Path, damage: str) -> None:
    store = Store(place(tmp_path))
    name = store.name("stage", "a")
    store.put(name, CONTENT)
    file = only_file(tmp_path)
    file.write_bytes(DAMAGE[damage](file.read_bytes()))
    assert store.get(name) is None
    store.put(name, CONTENT)
    assert store.get(name) == CONTENT


def test_an_entry_under_another_name_is_absent(tmp_path: Path) -> None:
    """A file that is moved onto another's place is whole, but does not belong there."""
    store = Store(place(tmp_path))
    first, second = store.name("stage", "a"), store.name("stage", "b")
    store.put(first, CONTENT)
    data = only_file(tmp_path).read_bytes()
    store.put(second, b"other")
    (tmp_path / second[:2] / second[2:]).write_bytes(data)
    assert store.get(second) is None and store.get(first) == CONTENT


def test_another_key_finds_nothing_and_forges_nothing(tmp_path: Path) -> None:
    ours, theirs = Store(place(tmp_path, key=b"ours")), Store(place(tmp_path, key=b"theirs"))
    name = ours.name("result", "the same part")
    ours.put(name, CONTENT)
    assert theirs.name("result", "the same part") != name
    assert theirs.get(name) is None  # even when it knows the name
    theirs.put(name, b"forged")
    assert ours.get(name) is None


def test_the_longest_unused_go_first(tmp_path: Path) -> None:
    store = Store(place(tmp_path, limit=3500))
    names = [store.name("stage", str(i)) for i in range(3)]
    for i, name in enumerate(names):
        store.put(name, bytes(1000))
        os.utime(tmp_path / name[:2] / name[2:], (1000.0 + i, 1000.0 + i))
    assert store.get(names[0]) is not None  # used just now
    newest = store.name("stage", "new")
    store.put(newest, bytes(1000))
    store.trim()
    assert [store.get(n) is not None for n in (*names, newest)] == [True, False, True, True]


def test_what_is_over_age_goes_and_so_does_what_was_never_finished(tmp_path: Path) -> None:
    store = Store(place(tmp_path, age=100.0))
    old, young = store.name("stage", "old"), store.name("stage", "young")
    for name in (old, young):
        store.put(name, CONTENT)
    now = time.time()
    os.utime(tmp_path / old[:2] / old[2:], (now - 200, now - 200))
    half = tmp_path / f"new-1-{'0' * 16}"
    half.write_bytes(b"half")
    os.utime(half, (now - 7200, now - 7200))
    store.trim()
    assert store.get(old) is None and store.get(young) == CONTENT and not half.exists()


def test_files_that_are_not_ours_are_let_alone(tmp_path: Path) -> None:
    (tmp_path / "ab").mkdir()
    others = [tmp_path / "plan.json", tmp_path / "ab" / "part.step", tmp_path / "new-plan"]
    for other in others:
        other.write_bytes(bytes(5000))
        os.utime(other, (1.0, 1.0))
    store = Store(place(tmp_path, limit=10, age=1.0))
    store.put(store.name("stage", "a"), b"12345")
    store.trim()
    assert all(other.exists() for other in others)


def test_where_nothing_can_be_written_nothing_is_kept(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"in the way")
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        store = Store(place(folder))
        name = store.name("stage", "a")
        store.put(name, CONTENT)
        assert store.get(name) is None
        store.trim()


def test_a_folder_that_anybody_may_write_to_is_not_believed(tmp_path: Path) -> None:
    store = Store(place(tmp_path))
    name = store.name("stage", "a")
    store.put(name, CONTENT)
    tmp_path.chmod(0o777)
    assert store.get(name) is None


def test_a_value_larger_than_the_limit_is_not_kept(tmp_path: Path) -> None:
    store = Store(place(tmp_path, limit=len(CONTENT) - 1))
    store.put(store.name("stage", "a"), CONTENT)
    assert not list(tmp_path.rglob("*"))


def test_two_writers_leave_one_whole_entry(tmp_path: Path) -> None:
    store, versions = Store(place(tmp_path)), [bytes([i]) * 200_000 for i in range(4)]
    name = store.name("stage", "a")
    seen: list[bytes | None] = []
    writers = [threading.Thread(target=lambda v=v: [store.put(name, v) for _ in range(20)]) for v in versions]
    for writer in writers:
        writer.start()
    while any(writer.is_alive() for writer in writers):
        seen.append(store.get(name))
    assert all(one is None or one in versions for one in seen) and store.get(name) in versions
    assert not list(tmp_path.glob("new-*"))


def test_a_place_crosses_the_process_border(tmp_path: Path) -> None:
    given = place(tmp_path, key=b"\0\xff", limit=7, age=None)
    assert unpacked(given.packed()) == given


def test_a_service_tidies_although_nobody_asks(tmp_path: Path) -> None:
    given, stopping = place(tmp_path, age=10.0), threading.Event()
    name = Store(given).name("stage", "a")
    Store(given).put(name, CONTENT)
    os.utime(only_file(tmp_path), (1.0, 1.0))
    thread = keep_tidy(given, stopping, every=0.01)
    until = time.monotonic() + 10
    while any(p.is_file() for p in tmp_path.rglob("*")) and time.monotonic() < until:
        time.sleep(0.01)
    stopping.set()
    thread.join(5)
    assert not thread.is_alive() and not any(p.is_file() for p in tmp_path.rglob("*"))
