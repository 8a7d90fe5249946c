"""Input that cannot be used, told on stderr in the words of the service."""

from __future__ import annotations

import sys

from schemas.problem import Problem

MOST_FAULTS = 20
"""So many faults of one input are told at most: more are mended from a second run."""


def tell(problem: Problem) -> None:
    """One line for each fault."""
    told = problem.sentences()
    print("\n".join(f"reclamp: {line}" for line in told[:MOST_FAULTS]), file=sys.stderr)
