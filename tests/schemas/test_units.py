"""Volumes and areas in words: one form in findings, tables and sheets, never a power of ten."""

from __future__ import annotations

import pytest

from schemas.units import INCH, MM


@pytest.mark.parametrize(
    ("mm3", "metric", "inch"),
    [
        (0.0, "0 mm3", "0 in3"),
        (0.0008, "0.0008 mm3", "0 in3"),
        (0.3, "0.3 mm3", "0.000018 in3"),
        (999.994, "999.99 mm3", "0.061 in3"),
        (56140.0, "56.14 cm3", "3.4259 in3"),
        (16387.064, "16.39 cm3", "1 in3"),  # 25.4 cubed, by the definition of the inch
    ],
)
def test_volumes(mm3: float, metric: str, inch: str) -> None:
    assert (MM.volume_text(mm3), INCH.volume_text(mm3)) == (metric, inch)


def test_areas() -> None:
    assert [MM.area_text(a) for a in (12.345, 480.0, 56140.4)] == ["12.35 mm2", "480 mm2", "56140 mm2"]
    assert INCH.area_text(645.16) == "1 in2"  # 25.4 squared


def test_two_lengths_side_by_side_show_their_difference() -> None:
    assert MM.texts(8.01, 8.0) == ("8.01 mm", "8 mm")
    assert MM.texts(8.0011, 8.0) == ("8.0011 mm", "8 mm")
    assert MM.texts(8.00149, 8.0004) == ("8.0015 mm", "8.0004 mm")
    assert INCH.texts(7.9386, 7.9375) == ("0.312543 in", "0.3125 in")  # 7.9386 / 25.4 and 5/16
