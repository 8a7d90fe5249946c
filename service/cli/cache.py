"""``--cache DIR``: where a command leaves what it found out, so that the next check of nearly the same is quicker."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from worker.cache.store import Place

VARIABLE = "RECLAMP_CACHE"


def add_cache(parser: argparse.ArgumentParser) -> None:
    """Declare the option."""
    parser.add_argument(
        "--cache",
        metavar="DIR",
        default=os.environ.get(VARIABLE, ""),
        help=f"keep results in DIR, use those that are there: the same bytes, sooner (default: ${VARIABLE}, else none)",
    )


def cache_of(args: argparse.Namespace) -> Place | None:
    """The cache that the command was given, if any."""
    return Place(str(Path(args.cache).absolute())) if args.cache else None
