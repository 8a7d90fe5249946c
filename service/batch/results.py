"""What became of each check: a line of the table, a line of the journal, an exit code."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

Result = Literal["pass", "fail", "unusable", "internal"]
_CODES: Mapping[str, int] = {"pass": 0, "fail": 1, "unusable": 2, "internal": 3}


@dataclass(frozen=True, slots=True)
class Row:
    """One check of the batch."""

    name: str
    result: Result
    errors: int = 0
    warnings: int = 0
    notes: int = 0
    check: str = ""
    codes: str = ""
    detail: str = ""


def of_report(name: str, check: str, document: Mapping[str, Any]) -> Row:
    """The row of a report."""
    counts: Mapping[str, int] = document["counts"]
    codes = sorted({finding["code"] for finding in document["findings"] if finding["level"] == "error"})
    result: Result = "pass" if document["verdict"] == "pass" else "fail"
    numbers = (counts.get("error", 0), counts.get("warning", 0), counts.get("note", 0))
    return Row(name, result, *numbers, check=check, codes=" ".join(codes))


def of_problem(name: str, document: Mapping[str, Any], status: int) -> Row:
    """The row of a check that was refused or broke off: the input's fault below 500, ours from there on."""
    words = " ".join(str(document.get(k, "")) for k in ("pointer", "detail", "remedy"))
    kind = str(document.get("type", "")).rpartition(":")[2]
    return Row(
        name, "unusable" if status < 500 and status != 409 else "internal", codes=kind, detail=" ".join(words.split())
    )


def of_failure(name: str, why: str) -> Row:
    """The row of a check that has no end."""
    return Row(name, "internal", detail=why)


def exit_code(rows: Iterable[Row], fail_on: str) -> int:
    """The worst of all, as a single check would exit: 0 pass, 1 fail, 2 unusable, 3 internal."""
    return max((_code(row, fail_on) for row in rows), default=0)


def _code(row: Row, fail_on: str) -> int:
    if row.result == "pass" and fail_on == "warning" and row.warnings:
        return 1
    return _CODES[row.result]


def as_csv(rows: Sequence[Row]) -> str:
    """The table as CSV (RFC 4180). Cells that a spreadsheet would take for a formula are disarmed."""
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, list(Row.__dataclass_fields__))
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _harmless(value) for name, value in asdict(row).items()})
    return buffer.getvalue()


def _harmless(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t") else value


def as_text(rows: Sequence[Row]) -> str:
    """The table for people."""
    cells = [("check", "result", "errors", "warnings", "codes")]
    cells += [(r.name, r.result, str(r.errors), str(r.warnings), r.codes or r.detail[:60]) for r in rows]
    widths = [max(len(line[i]) for line in cells) for i in range(5)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in cells]
    totals = ", ".join(f"{sum(r.result == kind for r in rows)} {kind}" for kind in _CODES)
    return "\n".join([lines[0], "  ".join("-" * width for width in widths), *lines[1:], "", totals]) + "\n"


class Journal:
    """One line for each check that ended: an interrupted batch goes on from here."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.known: dict[str, Row] = dict(_lines(path))

    def add(self, key: str, row: Row) -> None:
        """Write a line at once; only ends that would be the same again are kept."""
        if row.result != "internal":
            with self._path.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"key": key, **asdict(row)}) + "\n")


def _lines(path: Path) -> Iterable[tuple[str, Row]]:
    if not path.is_file():
        return
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            fields = json.loads(line)
            yield fields.pop("key"), Row(**fields)
        except (ValueError, KeyError, TypeError, AttributeError):
            continue  # the last line of a batch that was killed while it wrote
