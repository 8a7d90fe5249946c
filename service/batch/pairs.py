"""Finds part and plan pairs: in the folders of a folder, side by side in it, or in a list."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from schemas.plan import MAX_PLAN_BYTES, read_plan, step_names
from schemas.problem import Problem

_STEP = (".step", ".stp", ".STEP", ".STP")


@dataclass(frozen=True, slots=True)
class Pair:
    """One check to be made. ``files`` are found by the names in the plan unless the list gives them."""

    name: str
    part: Path
    plan: Path
    files: dict[str, Path] = field(default_factory=dict)


def find_pairs(where: Path) -> list[Pair]:
    """All pairs, in the order of their names, or of the list's lines. Raises Problem when there are none."""
    pairs = list(_of_folder(where) if where.is_dir() else _of_list(where))
    if not pairs:
        raise Problem(
            "batch.empty",
            "Nothing to check",
            f"'{where}' holds no pair of part and plan.",
            pointer=str(where),
            remedy="Use folders with part.step and plan.json, files NAME.step beside NAME.json, or a list.",
        )
    return pairs


def _of_folder(folder: Path) -> Iterator[Pair]:
    for entry in sorted(folder.iterdir()):
        if entry.is_dir():
            part, plan = _step_file(entry, "part"), entry / "plan.json"
            if part is not None and plan.is_file():
                yield Pair(entry.name, part, plan)
        elif entry.suffix == ".json" and (part := _step_file(folder, entry.stem)) is not None:
            yield Pair(entry.stem, part, entry)


def _of_list(path: Path) -> Iterator[Pair]:
    """Lines ``PART,PLAN[,NAME=PATH...]``, paths relative to the list; empty lines and ``#`` lines are passed over."""
    try:
        lines = list(csv.reader(path.read_text(encoding="utf-8-sig").splitlines()))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise _bad(path, 0, f"it cannot be read ({type(error).__name__})") from None
    for number, line in enumerate(lines, 1):
        cells = [cell.strip() for cell in line]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if len(cells) < 2 or not all("=" in cell for cell in cells[2:] if cell):
            raise _bad(path, number, "it is not PART,PLAN[,NAME=PATH...]")
        named = dict(cell.split("=", 1) for cell in cells[2:] if cell)
        files = {name: path.parent / file for name, file in named.items()}
        yield Pair(f"{number}:{cells[0]}", path.parent / cells[0], path.parent / cells[1], files)


def _bad(path: Path, number: int, why: str) -> Problem:
    where = f"{path}, line {number}" if number else str(path)
    return Problem("batch.list", "The list cannot be used", f"{where}: {why}.", pointer=str(path))


def _step_file(folder: Path, stem: str) -> Path | None:
    return next((folder / f"{stem}{end}" for end in _STEP if (folder / f"{stem}{end}").is_file()), None)


@dataclass(frozen=True, slots=True)
class Loaded:
    """The bytes of a pair, and a key that is the same for the same bytes."""

    part: bytes
    plan: bytes
    files: dict[str, bytes]

    def key(self) -> str:
        """The Idempotency-Key: sent again after an interruption, it finds the same check."""
        digest = hashlib.sha256()
        for name, data in (("part", self.part), ("plan", self.plan), *sorted(self.files.items())):
            digest.update(f"{len(name)}:{name}:{len(data)}:".encode() + data)
        return f"batch-{digest.hexdigest()}"


def load(pair: Pair) -> Loaded:
    """Read a pair. Raises Problem for what cannot be read, and for a plan that is not one."""
    part, plan = _read(pair.part), _read(pair.plan, MAX_PLAN_BYTES)
    files = dict(pair.files)
    for name, pointer in step_names(read_plan(plan)).items():
        found = files.get(name) or _beside(pair.plan.parent, name)
        if found is None:
            raise Problem(
                "plan.file-missing",
                "A file is missing",
                f"The plan names the STEP file '{name}', which does not lie beside it.",
                pointer=pointer,
            )
        files[name] = found
    return Loaded(part, plan, {name: _read(path) for name, path in files.items()})


def _beside(folder: Path, name: str) -> Path | None:
    return folder / name if (folder / name).is_file() else _step_file(folder, name)


def _read(path: Path, most: int = 1 << 30) -> bytes:
    try:
        if path.stat().st_size > most:
            raise Problem("batch.file", "A file is too large", f"'{path}' is too large.", pointer=str(path))
        return path.read_bytes()
    except OSError as error:
        raise Problem(
            "batch.file", "A file cannot be read", f"'{path}' cannot be read: {error.strerror}.", pointer=str(path)
        ) from None
