"""Bytes kept in a folder under the digest of what they depend on; whatever is damaged or foreign is simply absent.

An entry is one file: a mark, a keyed checksum over its name and content, the content. It is written beside its place
and renamed, so that readers see all of it or nothing. Nothing here raises for a disk that is full, away or read-only.
"""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import json
import os
import re
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

MARK = b"reclamp cache 1\n"
_SUM = 32
_ABANDONED = 3600.0
"""Seconds after which a half-written file belongs to a process that is gone."""
_OURS = re.compile(r"[0-9a-f]{2}/[0-9a-f]{62}|new-[0-9]+-[0-9a-f]{16}")
LIMIT = 512 * 2**20
"""Bytes of a cache whose owner states no limit."""


@dataclass(frozen=True, slots=True)
class Place:
    """A cache: its folder, a secret key that names and checksums depend on (at most 64 bytes), bytes it may hold.

    Entries that nobody used for ``age`` seconds are dropped; None keeps them while there is room. Who has another
    key finds and forges nothing here.
    """

    folder: str
    key: bytes = b""
    limit: int = LIMIT
    age: float | None = None

    def packed(self) -> bytes:
        """The place as bytes, for a child process."""
        return json.dumps([self.folder, self.key.hex(), self.limit, self.age]).encode()


def unpacked(data: bytes) -> Place:
    """The place of :meth:`Place.packed`."""
    folder, key, limit, age = json.loads(data)
    return Place(folder, bytes.fromhex(key), limit, age)


@dataclass(frozen=True, slots=True)
class _Entry:
    path: Path
    size: int
    used: float


class Store:
    """The entries of one place."""

    def __init__(self, place: Place) -> None:
        self._place = place
        self._folder = Path(place.folder)

    def name(self, kind: str, *parts: bytes | str) -> str:
        """The name of a value by its kind and all that it depends on."""
        found = hashlib.blake2b(key=self._place.key, digest_size=32)
        for part in (kind, *parts):
            data = part.encode() if isinstance(part, str) else part
            found.update(len(data).to_bytes(8, "big") + data)
        return found.hexdigest()

    def get(self, name: str) -> bytes | None:
        """The content of an entry, None when there is none or it is not whole; marks it as used."""
        path = self._path(name)
        try:
            if self._open_to_all():
                return None
            data = path.read_bytes()
            os.utime(path)
        except OSError:
            return None
        head, content = data[: len(MARK) + _SUM], data[len(MARK) + _SUM :]
        whole = head[: len(MARK)] == MARK and hmac.compare_digest(head[len(MARK) :], self._sum(name, content))
        return content if whole else None

    def put(self, name: str, content: bytes) -> None:
        """Keep the content; nothing happens where it cannot be kept."""
        if len(content) > self._place.limit:
            return
        path = self._path(name)
        beside = self._folder / f"new-{os.getpid()}-{os.urandom(8).hex()}"
        try:
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            path.parent.mkdir(exist_ok=True, mode=0o700)
            if self._open_to_all():
                return
            beside.write_bytes(MARK + self._sum(name, content) + content)
            beside.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                beside.unlink()

    def trim(self) -> None:
        """Drop what is over age, then the longest unused entries until the rest is within the limit."""
        now, room = time.time(), self._place.limit
        for entry in sorted(self._entries(), key=lambda e: -e.used):
            room -= entry.size
            old = self._place.age is not None and now - entry.used > self._place.age
            half = entry.path.parent == self._folder and now - entry.used > _ABANDONED
            if room < 0 or old or half:
                room += entry.size
                with contextlib.suppress(OSError):
                    entry.path.unlink()

    def _entries(self) -> Iterator[_Entry]:
        """Our own files and no others: the folder may be anybody's."""
        for path in (*self._folder.glob("new-*"), *self._folder.glob("??/*")):
            if _OURS.fullmatch(str(path.relative_to(self._folder))):
                with contextlib.suppress(OSError):
                    found = path.stat(follow_symlinks=False)
                    yield _Entry(path, found.st_size, found.st_mtime)

    def _path(self, name: str) -> Path:
        return self._folder / name[:2] / name[2:]

    def _sum(self, name: str, content: bytes) -> bytes:
        found = hashlib.blake2b(bytes.fromhex(name), key=self._place.key, digest_size=_SUM)
        found.update(content)
        return found.digest()

    def _open_to_all(self) -> bool:
        """True for a folder that anybody may write to: what lies there may be anybody's."""
        return bool(self._folder.stat().st_mode & 0o002)


def keep_tidy(place: Place, stopping: threading.Event, every: float = 600.0) -> threading.Thread:
    """Trim the place every so many seconds until ``stopping``, so that what is over age goes although nobody asks."""

    def run() -> None:
        store = Store(place)
        while not stopping.wait(every):
            store.trim()

    thread = threading.Thread(target=run, name="cache", daemon=True)
    thread.start()
    return thread
