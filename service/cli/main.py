"""``reclamp``: one word a command; a command's module is loaded only when that command runs."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence
from types import ModuleType

from schemas.problem import Problem
from service.cli.problems import tell

EXIT_PASS, EXIT_FAIL, EXIT_UNUSABLE, EXIT_INTERNAL = 0, 1, 2, 3

COMMANDS: dict[str, str] = {
    "check": "check a part and its setup plan",
    "features": "list the features of a part",
    "compare": "compare two revisions of a part under one plan",
    "rules": "list the rules, or explain one",
    "schema": "print the JSON Schema of the plan or the report",
    "serve": "start API, worker and broker on this machine",
    "batch": "send many part and plan pairs to a service",
    "keys": "create, list, rotate and revoke API keys",
}
"""Name of each command (its module is ``service.cli.<name>``) and what it does."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 pass, 1 fail, 2 unusable input, 3 internal."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    parser = _parser()
    if words and words[0] in COMMANDS:
        return _run(words[0], words[1:])
    parser.parse_args(words)
    parser.print_help(sys.stderr)
    return EXIT_UNUSABLE


def _parser() -> argparse.ArgumentParser:
    width = max(map(len, COMMANDS))
    listing = "\n".join(f"  {name:<{width}}  {text}" for name, text in COMMANDS.items())
    return argparse.ArgumentParser(
        prog="reclamp",
        description="Checks a multi-setup machining plan against the part before metal is cut.",
        epilog=f"commands:\n{listing}\n\nreclamp COMMAND --help tells the rest.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        usage="reclamp COMMAND ...",
    )


def _run(name: str, words: list[str]) -> int:
    module: ModuleType = importlib.import_module(f"service.cli.{name}")
    parser = argparse.ArgumentParser(prog=f"reclamp {name}", description=(module.__doc__ or "").strip())
    module.add_arguments(parser)
    try:
        return int(module.run(parser.parse_args(words)))
    except Problem as problem:
        tell(problem)
        return EXIT_UNUSABLE
    except KeyboardInterrupt:
        print("reclamp: interrupted", file=sys.stderr)
        return EXIT_INTERNAL
    except Exception as error:
        print(f"reclamp: internal error: {type(error).__name__}: {error}", file=sys.stderr)
        return EXIT_INTERNAL


if __name__ == "__main__":
    sys.exit(main())
