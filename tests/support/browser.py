"""A real browser for tests of the page: an installed chromium, driven headless; absent, such tests are skipped."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

FLAGS = [
    "--no-sandbox",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
"""Software WebGL, and no talk of the browser's own to any network."""
DRIVER_REMARK = re.compile(r"GL Driver Message \(OpenGL, Performance\b")
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


@contextmanager
def browser() -> Iterator[Any]:
    """A running browser; skips the test when there is none to run."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: pip install playwright")
    path = os.environ.get("RECLAMP_BROWSER") or next((p for n in NAMES if (p := shutil.which(n))), None)
    if path is None:
        pytest.skip("no browser: install chromium, or name one in RECLAMP_BROWSER")
    with sync_api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, headless=True, args=FLAGS)
        yield running
        running.close()


def listen(page: Any, noise: list[str]) -> None:
    """Put into `noise` what the page's scripts write to the console or break with.

    The graphics driver writes to the same console how fast its own work goes ("GPU stall due to ReadPixels"), by the
    machine's load: that says nothing of the page and is left out.
    """

    def heard(message: Any) -> None:
        if not DRIVER_REMARK.search(message.text):
            noise.append(f"{message.type}: {message.text}")

    page.on("console", heard)
    page.on("pageerror", lambda error: noise.append(f"error: {error}"))
