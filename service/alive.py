"""Health check of an API container: the process inside answers on its port."""

from __future__ import annotations

import sys

import httpx


def main(url: str = "http://127.0.0.1:8000/healthz") -> int:
    """0 when it answers well, 1 when it does not."""
    try:
        return 0 if httpx.get(url, timeout=2).status_code == 200 else 1
    except httpx.HTTPError:
        return 1


if __name__ == "__main__":
    sys.exit(main())
