"""Send many part and plan pairs to a service; run it again after an interruption and it goes on.

Exit codes as for one check, the worst counts: 0 pass, 1 fail, 2 unusable input, 3 internal or not reached.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("where", type=Path, metavar="DIR|LIST", help="folder of pairs, or a list of PART,PLAN lines")
    parser.add_argument("--url", required=True, help="the service, such as http://127.0.0.1:8000")
    parser.add_argument("--out", type=Path, default=Path("batch"), metavar="DIR", help="results (default: batch)")
    parser.add_argument("--key-file", type=Path, help="file with the API key (default: RECLAMP_KEY)")
    parser.add_argument("--at-once", type=int, default=8, help="checks under way at once (default: 8)")
    parser.add_argument("--patience", type=float, default=3600.0, help="seconds for each check (default: 3600)")
    parser.add_argument(
        "--fail-on", choices=("error", "warning"), default="error", help="least level for exit 1 (default: error)"
    )
    parser.add_argument("--quiet", action="store_true", help="no progress bar")


def run(args: argparse.Namespace) -> int:
    """Run the batch, write results.csv and results.txt, print the table."""
    from service.batch.pairs import find_pairs
    from service.batch.results import as_csv, as_text, exit_code
    from service.batch.run import Plan, run_batch

    pairs = find_pairs(args.where)
    key = args.key_file.read_text().strip() if args.key_file else os.environ.get("RECLAMP_KEY")
    plan = Plan(args.url, key, max(1, min(64, args.at_once)), args.patience, args.out)
    rows = run_batch(plan, pairs, show=not args.quiet)
    (args.out / "results.csv").write_text(as_csv(rows), encoding="utf-8", newline="")
    (args.out / "results.txt").write_text(as_text(rows), encoding="utf-8")
    sys.stdout.write(as_text(rows))
    return exit_code(rows, args.fail_on)
