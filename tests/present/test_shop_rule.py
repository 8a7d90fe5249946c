"""The example of a shop's own rule, installed as a package of its own and found by its entry point."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.support.plans import drilled_block
from tests.support.shared_folder import with_cache
from worker.kernel.boolean import cut
from worker.kernel.primitives import box, cylinder
from worker.kernel.stepio import write_step

ROOT = Path(__file__).resolve().parents[2]
PLAN = drilled_block(30, count=1)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package installed into a folder of its own; the sources are copied, as building writes beside them."""
    source = tmp_path_factory.mktemp("source") / "shop_rule"
    shutil.copytree(ROOT / "examples" / "shop_rule", source, ignore=shutil.ignore_patterns("__pycache__"))
    site = tmp_path_factory.mktemp("site")
    install = [
        "install",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "--no-index",
        "--target",
        str(site),
        str(source),
    ]
    subprocess.run([sys.executable, "-m", "pip", *install], check=True, capture_output=True)
    body = cut(box((0.0, 0.0, 0.0), (60.0, 40.0, 30.0)), [cylinder((30.0, 20.0, -5.0), (30.0, 20.0, 35.0), 6.0)])
    (site / "part.step").write_bytes(write_step(body, "mm", "part"))
    return site


def reclamp(shop: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**with_cache(), "PYTHONPATH": f"{shop}{os.pathsep}{ROOT}"}
    command = [sys.executable, "-m", "service.cli.main", *words]
    return subprocess.run(command, env=env, cwd=shop, capture_output=True, text=True, timeout=300, check=False)


def check(shop: Path, plan: dict[str, Any]) -> list[dict[str, Any]]:
    (shop / "plan.json").write_text(json.dumps(plan))
    done = reclamp(shop, "check", "part.step", "plan.json", "--out", "out", "--format", "json", "--quiet")
    assert done.returncode in (0, 1), done.stderr
    return [f for f in json.loads(done.stdout)["findings"] if f["code"] == "shop.deep-hole"]


def test_it_is_listed_and_explained(shop: Path) -> None:
    listed = reclamp(shop, "rules").stdout
    assert "shop.deep-hole" in listed
    told = reclamp(shop, "rules", "shop.deep-hole").stdout
    assert "policy.limits.shop_deep_hole_ratio: 4 (house rule: depth over diameter)" in told


def test_it_is_not_there_where_it_is_not_installed(tmp_path: Path) -> None:
    assert "shop.deep-hole" not in reclamp(tmp_path, "rules").stdout


def test_it_finds_a_deep_hole_and_says_what_mends_it(shop: Path) -> None:
    [finding] = check(shop, PLAN)
    # from the top of the metal to 1 mm below the part: 31 mm of a 6 mm drill
    assert finding["measured"] == pytest.approx(31 / 6, abs=1e-4)
    assert finding["level"] == "warning"
    assert finding["remedy"]["pointer"] == "/setups/0/workingsteps/0/operation"
    mended = json.loads(json.dumps(PLAN))
    mended["setups"][0]["workingsteps"][0]["operation"] = finding["remedy"]["value"]
    assert check(shop, mended) == []


def test_policy_sets_its_level_and_its_limit(shop: Path) -> None:
    [finding] = check(shop, {**PLAN, "policy": {"levels": {"shop.deep-hole": "error"}}})
    assert finding["level"] == "error"
    assert check(shop, {**PLAN, "policy": {"limits": {"shop_deep_hole_ratio": 6.0}}}) == []
    assert check(shop, {**PLAN, "policy": {"levels": {"shop.deep-hole": "off"}}}) == []
