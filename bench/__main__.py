"""``python -m bench [NAME ...]``: run the named benches, or all that need no argument."""

from __future__ import annotations

import compileall
import importlib
import sys

DEFAULT = ("check", "cache")


def main() -> None:
    """Run them in turn; a bench that fails is told and the others still run."""
    for room in ("schemas", "service", "worker"):
        compileall.compile_dir(room, quiet=1)  # bytecode lies beside the source of everything that is installed
    for name in sys.argv[1:] or DEFAULT:
        print(f"== {name}")
        try:
            importlib.import_module(f"bench.{name}").main()
        except Exception as error:
            print(f"{name}: failed: {type(error).__name__}: {error}")


if __name__ == "__main__":
    main()
