"""``python -m bench [NAME ...]``: run the named benches, or all that need no argument."""

from __future__ import annotations

import compileall
import importlib
import sys
from pathlib import Path

DEFAULT = ("check", "cache")


def main() -> None:
    """Run them in turn; a bench that fails is told and the others still run."""
    for room in ("schemas", "service", "worker"):
        compileall.compile_dir(room, quiet=1)  # bytecode lies beside the source of everything that is installed
    known = sorted(p.stem for p in Path(__file__).parent.glob("[!_]*.py") if "def main(" in p.read_text())
    for name in sys.argv[1:] or DEFAULT:
        if name not in known:
            sys.exit(f"No bench is called {name!r}; there are {', '.join(known)}. Options: bench.NAME.")
        print(f"== {name}")
        try:
            importlib.import_module(f"bench.{name}").main()
        except Exception as error:
            print(f"{name}: failed: {type(error).__name__}: {error}")


if __name__ == "__main__":
    main()
