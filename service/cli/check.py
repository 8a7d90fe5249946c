"""Check a STEP part and a JSON setup plan: writes DIR/report.json and DIR/stages/SETUP.step, prints the verdict.

Exit codes: 0 pass, 1 fail, 2 unusable input, 3 internal; with --watch that of the last check.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from schemas.plan import MAX_PLAN_BYTES
from service.cli.cache import add_cache, cache_of
from service.cli.files import named_files, read_file, write_all
from service.cli.watch import watch
from worker.cache.store import Place


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("part", metavar="PART.step", help="the finished part")
    parser.add_argument("plan", metavar="PLAN.json", help="the setup plan")
    parser.add_argument(
        "--file",
        action="append",
        default=[],
        metavar="NAME=PATH",
        help="a STEP file that the plan names (repeat for each)",
    )
    parser.add_argument("--out", required=True, metavar="DIR", help="folder for report.json and the stages")
    parser.add_argument(
        "--format", choices=("text", "json", "junit", "sarif"), default="text", help="what is printed (default: text)"
    )
    parser.add_argument(
        "--fail-on",
        choices=("error", "warning"),
        default="error",
        help="the least level that makes the exit code 1 (default: error)",
    )
    parser.add_argument("--baseline", metavar="REPORT", help="an earlier report.json: fail only on what is new since")
    parser.add_argument("--page", action="store_true", help="also write report.html")
    parser.add_argument("--sheet", action="store_true", help="also write setup-sheet.pdf")
    add_cache(parser)
    parser.add_argument(
        "--watch", action="store_true", help="check again whenever a file has changed, sooner, until interrupted"
    )
    parser.add_argument("--quiet", action="store_true", help="no progress on stderr")


def run(args: argparse.Namespace) -> int:
    """Check, write, print, with ``--watch`` again and again; returns the exit code."""
    if not args.watch:
        return _check(args, cache_of(args))
    given = (args.part, args.plan, *(pair.partition("=")[2] for pair in args.file), args.baseline or "")
    return watch([path for path in given if path], lambda cache: _check(args, cache, warm=True), cache_of(args))


def _check(args: argparse.Namespace, cache: Place | None, *, warm: bool = False) -> int:
    from worker.job import run_check

    part = read_file(args.part, "part")
    plan = read_file(args.plan, "plan", MAX_PLAN_BYTES)
    files = named_files(args.file)
    baseline = _baseline(args.baseline)
    result = run_check(
        part,
        plan,
        files,
        on_progress=None if args.quiet else _show,
        extras=_extras(args),
        method="forkserver" if warm else "fork",
        cache=cache,
    )
    document: dict[str, Any] = json.loads(result.report)
    outputs = {"report.json": result.report, **{f"stages/{id}.step": data for id, data in result.stages.items()}}
    write_all(Path(args.out), {**outputs, **result.extras})
    sys.stdout.write(_printed(document, result.report, args.format))
    return _exit_code(document, args.fail_on, baseline)


def _extras(args: argparse.Namespace) -> tuple[str, ...]:
    return tuple(name for name, wanted in (("report.html", args.page), ("setup-sheet.pdf", args.sheet)) if wanted)


def _baseline(path: str | None) -> dict[str, Any] | None:
    if path is None:
        return None
    from worker.present.baseline import read_baseline

    return read_baseline(read_file(path, "baseline report"), path)


def _printed(document: dict[str, Any], report: bytes, form: str) -> str:
    if form == "json":
        return report.decode()
    if form == "junit":
        from worker.present.junit import report_junit

        return report_junit(document)
    if form == "sarif":
        from worker.present.sarif import report_sarif

        return report_sarif(document)
    from worker.present.text import report_text

    return report_text(document)


def _exit_code(document: dict[str, Any], fail_on: str, baseline: dict[str, Any] | None) -> int:
    findings = document["findings"]
    if baseline is not None:
        from worker.present.baseline import new_findings

        findings = new_findings(document, baseline)
    levels = ("error",) if fail_on == "error" else ("error", "warning")
    return int(any(finding["level"] in levels for finding in findings))


def _show(progress: Mapping[str, Any]) -> None:
    """One line of progress on stderr, only for a person."""
    if sys.stderr.isatty():
        setup = f" {progress['setup']}" if progress.get("setup") else ""
        end = "\n" if progress["phase"] == "write" else ""
        sys.stderr.write(f"\r\x1b[K{progress['phase']}{setup}{end}")
        sys.stderr.flush()
