"""List the features of a STEP part: class, size, depth, position, where each can be cut from."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from schemas.problem import Problem
from service.cli.cache import add_cache, cache_of
from service.cli.files import read_file, write_beside


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("part", metavar="PART.step")
    parser.add_argument("--format", choices=("text", "json"), default="text")
    parser.add_argument("--units", choices=("mm", "inch"), default="mm")
    parser.add_argument("--picture", metavar="FILE.png|svg", help="draw the part with its features numbered")
    add_cache(parser)


def run(args: argparse.Namespace) -> int:
    """Recognise and print."""
    from worker.job import run_features

    picture = _form(args.picture) if args.picture else None
    part = read_file(args.part, "part")
    result = run_features(part, args.units, picture, method="fork", cache=cache_of(args))
    if args.picture:
        write_beside(Path(args.picture), result.picture)
    text = result.document.decode() if args.format == "json" else result.table
    sys.stdout.write(text)
    return 0


def _form(path: str) -> str:
    form = Path(path).suffix.lower().lstrip(".")
    if form not in ("png", "svg"):
        raise Problem(
            "out.unknown",
            "No such picture is made",
            f"'{path}' is neither .png nor .svg.",
            pointer="--picture",
            remedy="End the file's name in .png or .svg.",
        )
    return form
