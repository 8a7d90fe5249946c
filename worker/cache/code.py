"""What the results of this process come from: a digest of the product's own files and of the packages beside it.

Taken when this module is loaded, together with the code that it stands for: a service that is upgraded in place keeps
the digest of the code that it runs.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import schemas
import worker

FORMAT = "1"
"""Of what is kept: raise it when the same code would read old entries differently."""


def _digest() -> str:
    found = hashlib.sha256(f"{FORMAT} {sys.version} {os.uname().machine}".encode())
    for name in packages():
        found.update(name.encode() + b"\0")
    for room in (schemas, worker):
        home = Path(room.__path__[0])
        for path in files(home):
            name = f"{room.__name__}/{path.relative_to(home)}"
            found.update(name.encode() + b"\0" + hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()


def files(folder: Path) -> Iterator[Path]:
    """All files below a folder but compiled ones, in order."""
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(f for f in folders if f != "__pycache__")
        yield from (Path(place, name) for name in sorted(names))


def packages() -> list[str]:
    """Name and version of every installed distribution, by the names of their metadata folders."""
    places = [Path(place or ".") for place in sys.path]
    found = [path.name for place in places if place.is_dir() for path in place.iterdir()]
    return sorted(name for name in found if name.endswith((".dist-info", ".egg-info")))


CODE = _digest()
"""Changes with any change of our files, of an installed package, of Python or of the kind of processor."""
