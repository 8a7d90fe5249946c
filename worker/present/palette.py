"""The colours of page, pictures and sheet. Chosen to stay apart for colour-blind readers; a test holds them to it.

Meaning never hangs on colour alone: levels also have a word and a shape, removal is striped.
"""

from __future__ import annotations

Rgb = tuple[int, int, int]

LIGHT: dict[str, str] = {
    "paper": "#f4f1e9",
    "sheet": "#fffdf7",
    "ink": "#1d2731",
    "soft": "#56616b",
    "rule": "#d2cab8",
    "accent": "#145a6e",
    "error": "#a3301a",
    "warning": "#7d5200",
    "note": "#2c5a97",
    "pass": "#0b6663",
    "error-tint": "#f9e3da",
    "warning-tint": "#f8ebcb",
    "note-tint": "#e2eaf5",
    "pass-tint": "#dcefec",
    "view-top": "#eef1ee",
    "view-bottom": "#d9dedb",
}
DARK: dict[str, str] = {
    "paper": "#12181e",
    "sheet": "#1a222a",
    "ink": "#e8e4da",
    "soft": "#a3adb5",
    "rule": "#37434e",
    "accent": "#7cc4d6",
    "error": "#ff9a7d",
    "warning": "#edbe5c",
    "note": "#9cc0f2",
    "pass": "#74cfc6",
    "error-tint": "#3a211b",
    "warning-tint": "#352a15",
    "note-tint": "#1d2a3d",
    "pass-tint": "#152f2f",
    "view-top": "#27313a",
    "view-bottom": "#161d24",
}
MODEL: dict[str, str] = {
    "stock": "#dcb768",
    "part": "#4f86c6",
    "removal": "#8c3a74",
    "workholding": "#87929b",
    "highlight": "#ee5a24",
}
"""Bodies of the model: stock before and after, part, removal, workholding, and the feature that is pointed at."""


def rgb(colour: str) -> Rgb:
    """The three bytes of '#rrggbb'."""
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))
