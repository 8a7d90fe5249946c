"""The features command: a table to read, JSON to use, a picture to look at; and how any command ends."""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from service.cli import schema
from service.cli.main import COMMANDS, main
from tests.support.examples import FOLDER

ROOT = Path(__file__).parents[2]
PART = FOLDER / "pump_flange_inch" / "part.step"


def features(*extra: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "service.cli.main", "features", str(PART), *extra]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)


def test_table_and_json_tell_the_same_features_in_the_units_asked_for(tmp_path: Path) -> None:
    table, picture = features("--units", "inch"), tmp_path / "part.svg"
    told = features("--units", "inch", "--format", "json", "--picture", str(picture))
    assert (table.returncode, told.returncode, table.stderr, told.stderr) == (0, 0, "", "")
    found = json.loads(told.stdout)["features"]
    rows = table.stdout.splitlines()[2:]
    assert sorted(line.split()[0] for line in rows) == sorted(f["id"] for f in found)
    # the part's script: four holes of 17/64 in and one of 27/64 in, a thread's tap drill, through 1 in of plate
    holes = sorted(f["diameter"] for f in found if f["class"] == "round_hole" and f["diameter"] < 1)
    assert holes == pytest.approx([17 / 64] * 4 + [27 / 64], abs=1e-6)
    tapped = next(f for f in found if f["class"] == "round_hole" and abs(f["diameter"] - 27 / 64) < 1e-6)
    row = next(line for line in rows if line.split()[0] == tapped["id"])
    assert "ø0.422" in row and "1 through" in row and "+Z, -Z" in row
    edge = next(line for line in rows if line.startswith("chamfer"))
    assert "+Z, +X, 3 tilted" in edge  # square to the face, along the edge, and along its bisectors
    assert max(map(len, rows)) <= 132  # a wide terminal
    numbers = ET.fromstring(picture.read_text()).itertext()
    assert all(f["id"] in " ".join(numbers) for f in found[:1])


def test_a_picture_is_png_or_svg_and_nothing_else(tmp_path: Path) -> None:
    picture = tmp_path / "part.png"
    assert features("--picture", str(picture)).returncode == 0
    assert picture.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    refused = features("--picture", str(tmp_path / "part.gif"))
    assert (refused.returncode, refused.stdout) == (2, "")
    assert ".png or .svg" in refused.stderr and len(refused.stderr.splitlines()) == 1
    assert not (tmp_path / "part.gif").exists()


def test_what_nobody_foresaw_exits_3_in_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fall(_: object) -> int:
        raise RuntimeError("the floor gave way")

    monkeypatch.setattr(schema, "run", fall)
    assert main(["schema", "plan"]) == 3
    out, err = capsys.readouterr()
    assert out == "" and err == "reclamp: internal error: RuntimeError: the floor gave way\n"


@pytest.mark.parametrize("words", [[], ["schema"], ["schema", "part"], ["check", "part.step"], ["no-such-command"]])
def test_words_that_make_no_command_exit_2(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    try:
        code = main(words)
    except SystemExit as end:
        code = int(end.code or 0)
    assert code == 2
    assert capsys.readouterr().err


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main([name, "--help"])
    assert end.value.code == 0
    assert f"reclamp {name}" in capsys.readouterr().out
