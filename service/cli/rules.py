"""List the rules with their levels, or explain one: why it matters, its limits and where they come from."""

from __future__ import annotations

import argparse
import sys


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("code", nargs="?", help="a code such as hold.grip")
    parser.add_argument("--markdown", action="store_true", help="the whole rule reference")


def run(args: argparse.Namespace) -> int:
    """Print it."""
    from worker.job import describe_rules

    sys.stdout.write(describe_rules(args.code, markdown=args.markdown, method="fork"))
    return 0
