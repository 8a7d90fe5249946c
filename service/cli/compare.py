"""Compare two revisions of a part under one plan: features, the setups they touch, and the findings that differ.

Exit codes: 0 no new errors, 1 new errors or a plan that no longer fits, 2 unusable input, 3 internal.
"""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from schemas.plan import MAX_PLAN_BYTES, read_plan
from schemas.problem import Problem
from service.cli.cache import add_cache, cache_of
from service.cli.files import named_files, read_file
from worker.cache.store import Place

UNFIT = "plan.selector"
"""The Problem of a plan whose selectors fit one revision and not the other: a result here, not bad input."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("old", metavar="OLD.step", help="the part as it was")
    parser.add_argument("new", metavar="NEW.step", help="the part as it is now")
    parser.add_argument("plan", metavar="PLAN.json", help="the setup plan")
    parser.add_argument("--file", action="append", default=[], metavar="NAME=PATH", help="a STEP file of the plan")
    parser.add_argument("--format", choices=("text", "json"), default="text", help="what is printed (default: text)")
    add_cache(parser)


def run(args: argparse.Namespace) -> int:
    """Check both revisions, compare, print; returns the exit code."""
    from worker.present.difference import difference_text
    from worker.revision import compare_revisions

    plan = read_file(args.plan, "plan", MAX_PLAN_BYTES)
    files = named_files(args.file)
    units = read_plan(plan).units
    sides = {side: read_file(getattr(args, side), f"{side} part") for side in ("old", "new")}
    cache = cache_of(args)
    parts = {side: _features(data, units, cache) for side, data in sides.items()}
    reports, problems = _reports(sides, plan, files, cache)
    difference = compare_revisions(parts["old"], parts["new"], reports.get("old"), reports.get("new"))
    if problems:
        difference["problems"] = problems
    json_text = json.dumps(difference, indent=2, ensure_ascii=False) + "\n"
    sys.stdout.write(json_text if args.format == "json" else difference_text(difference, units))
    return _exit_code(difference)


def _features(part: bytes, units: str, cache: Place | None) -> dict[str, Any]:
    from worker.job import run_features

    document: dict[str, Any] = json.loads(run_features(part, units, cache=cache).document)
    return document


def _reports(
    sides: dict[str, bytes], plan: bytes, files: dict[str, bytes], cache: Place | None
) -> tuple[dict[str, dict[str, Any]], dict[str, str]]:
    """The report of each revision, or why the plan does not fit it."""
    from worker.job import run_check

    reports, problems = {}, {}
    for side, part in sides.items():
        try:
            reports[side] = json.loads(run_check(part, plan, files, cache=cache).report)
        except Problem as problem:
            if problem.type != UNFIT:
                raise
            problems[side] = problem.sentence()
    return reports, problems


def _exit_code(difference: dict[str, Any]) -> int:
    if "new" in difference.get("problems", {}):
        return 1
    return int(any(f["level"] == "error" for f in difference.get("findings", {}).get("new", ())))
