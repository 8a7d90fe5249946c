"""Files on the command line: read with a plain sentence when they cannot be, written all or none."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from schemas.problem import Problem

MAX_STEP_BYTES = 256 * 1024 * 1024


def read_file(path: str, what: str, limit: int = MAX_STEP_BYTES) -> bytes:
    """The bytes of a file; raises Problem ``file.unreadable`` or ``file.too-large``."""
    try:
        size = Path(path).stat().st_size
        if size > limit:
            raise Problem(
                "file.too-large",
                "A file is too large",
                f"The {what} has {size} bytes.",
                pointer=path,
                remedy=f"Keep it below {limit} bytes.",
                status=413,
            )
        return Path(path).read_bytes()
    except OSError as error:
        raise Problem(
            "file.unreadable",
            "A file cannot be read",
            f"The {what} cannot be read: {error.strerror}.",
            pointer=path,
            remedy="Give the path of a file that exists and may be read.",
        ) from None


def named_files(pairs: list[str]) -> dict[str, bytes]:
    """The files of ``--file NAME=PATH``; raises Problem for a malformed or repeated pair."""
    found: dict[str, bytes] = {}
    for pair in pairs:
        name, equals, path = pair.partition("=")
        if not equals or not name or not path:
            raise Problem(
                "file.name",
                "A file has no name",
                f"'{pair}' is not NAME=PATH.",
                pointer="--file",
                remedy="Write --file NAME=PATH with the name that the plan uses.",
            )
        if name in found:
            raise Problem(
                "file.name",
                "A file name is used twice",
                f"'{name}' is given twice.",
                pointer="--file",
                remedy="Give each name once.",
            )
        found[name] = read_file(path, f"file '{name}'")
    return found


def write_all(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files below ``folder``, all or none: they are complete beside it before the first one is moved in.

    Raises Problem ``out.unwritable``.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".reclamp-", dir=folder) as beside:
            for name, data in files.items():
                (Path(beside) / name).parent.mkdir(parents=True, exist_ok=True)
                (Path(beside) / name).write_bytes(data)
            _clear_stages(folder)
            for name in files:
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (Path(beside) / name).replace(folder / name)
    except OSError as error:
        raise unwritable(folder, error) from None


def write_beside(path: Path, data: bytes) -> None:
    """Write one file, whole or not at all; raises Problem ``out.unwritable``."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=".reclamp-", delete=False) as beside:
            beside.write(data)
        Path(beside.name).replace(path)
    except OSError as error:
        raise unwritable(path, error) from None


def unwritable(path: Path, error: OSError) -> Problem:
    """The Problem of a result that cannot be put where it was asked for."""
    return Problem(
        "out.unwritable",
        "The result cannot be written",
        f"It cannot be written: {error.strerror}.",
        pointer=str(path),
        remedy="Give a place that may be written, on a disk with room.",
    )


def _clear_stages(folder: Path) -> None:
    """Stages of an earlier run must not pass for this one's."""
    shutil.rmtree(folder / "stages", ignore_errors=True)
