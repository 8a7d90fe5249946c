"""Makes the README's pictures with the product itself: the page in a browser, a setup sheet, a setup.

python -m docs.make_pictures (needs playwright, chromium and pdftoppm; the report comes from examples/valve_body)
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[1]
PICTURES = ROOT / "docs" / "pictures"
PART, PLAN = ROOT / "examples/valve_body/part.step", ROOT / "examples/valve_body/plan.json"
FLAGS = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


def main() -> None:
    """Check a plan with one tool too short, and take the pictures."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        (out / "plan.json").write_text(json.dumps(_faulty(json.loads(PLAN.read_text()))))
        command = [
            "check",
            str(PART),
            str(out / "plan.json"),
            "--out",
            str(out / "out"),
            "--page",
            "--sheet",
            "--quiet",
        ]
        subprocess.run([sys.executable, "-m", "service.cli.main", *command], check=False, stdout=subprocess.DEVNULL)
        _page(out / "out" / "report.html")
        sheet = ["pdftoppm", "-r", "75", "-png", "-f", "1", "-l", "1", "-singlefile"]
        subprocess.run([*sheet, str(out / "out" / "setup-sheet.pdf"), str(PICTURES / "sheet")], check=True)


def _faulty(plan: dict[str, Any]) -> dict[str, Any]:
    """The side mill of the first setup stands out too little."""
    for tool in plan["tools"]:
        if tool["id"] == "T2":
            tool["stickout"] = 38
    return plan


def _page(report: Path) -> None:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", headless=True, args=FLAGS)
        page = browser.new_page(viewport={"width": 1280, "height": 800}, reduced_motion="reduce")
        page.goto(report.as_uri())
        page.wait_for_selector("#model[data-ready=true]")
        page.click("[data-show-finding='0']")
        page.click("#fit")
        page.click("[data-show-finding='0']")
        page.wait_for_timeout(600)
        page.screenshot(path=str(PICTURES / "page.png"))
        page.select_option("#section-axis", "1")
        page.click("#fit")
        page.wait_for_timeout(400)
        page.locator("#model .view").screenshot(path=str(PICTURES / "section.png"))
        browser.close()


if __name__ == "__main__":
    main()
