"""Print the JSON Schema of the plan or the report."""

from __future__ import annotations

import argparse
import json
import sys


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("which", choices=("plan", "report"))


def run(args: argparse.Namespace) -> int:
    """Print it."""
    from schemas.published import json_schema

    sys.stdout.write(json.dumps(json_schema(args.which), indent=2) + "\n")
    return 0
