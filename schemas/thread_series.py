"""Which standard thread a measured one is: ISO 261 coarse and fine pitches, Unified coarse and fine series.

Sources: ISO 261 fine pitches of the preferred sizes, from memory. Unified UNC and UNF: ASME B1.1 series up to 1 inch as
printed in a tool maker's tap-drill chart; 1 1/8 to 1 1/2 from memory.
"""

from __future__ import annotations

import re

from schemas.threads import COARSE, Thread, parse_thread
from schemas.tolerances import LENGTH

FINE: dict[float, tuple[float, ...]] = {
    3: (0.35,),
    3.5: (0.35,),
    4: (0.5,),
    5: (0.5,),
    6: (0.75,),
    8: (1.0, 0.75),
    10: (1.25, 1.0, 0.75),
    12: (1.5, 1.25, 1.0),
    14: (1.5, 1.25, 1.0),
    16: (1.5, 1.0),
    18: (2.0, 1.5, 1.0),
    20: (2.0, 1.5, 1.0),
    22: (2.0, 1.5, 1.0),
    24: (2.0, 1.5, 1.0),
    27: (2.0, 1.5, 1.0),
    30: (3.0, 2.0, 1.5, 1.0),
    33: (3.0, 2.0, 1.5),
    36: (3.0, 2.0, 1.5),
    39: (3.0, 2.0, 1.5),
    42: (4.0, 3.0, 2.0, 1.5),
    45: (4.0, 3.0, 2.0, 1.5),
    48: (4.0, 3.0, 2.0, 1.5),
    52: (4.0, 3.0, 2.0, 1.5),
    56: (4.0, 3.0, 2.0, 1.5),
    60: (4.0, 3.0, 2.0, 1.5),
    64: (4.0, 3.0, 2.0, 1.5),
}
"""ISO 261 fine pitches (mm) by nominal diameter."""
UNC: dict[str, int] = {
    "#1": 64, "#2": 56, "#3": 48, "#4": 40, "#5": 40, "#6": 32, "#8": 32, "#10": 24, "#12": 24, "1/4": 20,
    "5/16": 18, "3/8": 16, "7/16": 14, "1/2": 13, "9/16": 12, "5/8": 11, "3/4": 10, "7/8": 9, "1": 8,
    "1 1/8": 7, "1 1/4": 7, "1 3/8": 6, "1 1/2": 6,
}  # fmt: skip
"""Threads an inch of the Unified coarse series."""
UNF: dict[str, int] = {
    "#0": 80, "#1": 72, "#2": 64, "#3": 56, "#4": 48, "#5": 44, "#6": 40, "#8": 36, "#10": 32, "#12": 28, "1/4": 28,
    "5/16": 24, "3/8": 24, "7/16": 20, "1/2": 20, "9/16": 18, "5/8": 18, "3/4": 16, "7/8": 14, "1": 12,
    "1 1/8": 12, "1 1/4": 12, "1 3/8": 12, "1 1/2": 12,
}  # fmt: skip
"""Threads an inch of the Unified fine series."""
SAME_PITCH = 0.005
"""A measured pitch is a standard one within this share: the nearest metric and Unified pitches are 1.2 % apart."""
SAME_MAJOR = 0.25
"""A measured crest-to-crest diameter is the nominal one within this share of the pitch: a sharp vee overshoots by
H / 4 = 0.2165 P (ISO 68-1: the fundamental triangle is cut off by H / 8 on either side)."""


def standard_threads() -> tuple[str, ...]:
    """Designations of all threads of the four series, coarse before fine, metric before Unified."""
    coarse = [f"M{d:g}x{p:g}" for d, p in COARSE.items()]
    fine = [f"M{d:g}x{p:g}" for d, pitches in FINE.items() for p in pitches]
    inch = [f"{size}-{tpi} {name}" for series, name in ((UNC, "UNC"), (UNF, "UNF")) for size, tpi in series.items()]
    return (*coarse, *fine, *inch)


def thread_named(major: float, pitch: float, left: bool = False) -> str:
    """The designation of a thread with that outer diameter and pitch (mm), such as M8x1.25 or 1/2-13 UNC-LH.

    One that is no standard thread is named by its sizes alone: "ø 9.3 x 1.7".
    """
    suffix = "-LH" if left else ""
    near = [(abs(t.major - major), t.designation) for t in _KNOWN if abs(t.pitch - pitch) <= SAME_PITCH * t.pitch]
    near = [(gap, name) for gap, name in near if gap <= SAME_MAJOR * pitch]
    return (min(near)[1] if near else f"ø {round(major, 2):g} x {round(pitch, 3):g}") + suffix


def thread_in_name(name: str) -> Thread | None:
    """The thread that the name of a face states, such as "M8x1.25", "M8x1-6H" or "1/2-13 UNC-2B-LH"; else None.

    A tolerance class after a dash is passed over.
    """
    text, left = _LEFT.subn("", name.strip())
    text = _CLASS.sub("", text).strip()
    try:
        found = parse_thread(text)
    except ValueError:
        return None
    return parse_thread(f"{found.designation}-LH") if left else found


def same_thread(a: Thread, b: Thread) -> bool:
    """Whether two threads fit one another: diameter, pitch and hand, whatever series name they carry."""
    near = abs(a.major - b.major) < LENGTH and abs(a.pitch - b.pitch) <= SAME_PITCH * b.pitch
    return near and a.left == b.left


_LEFT = re.compile(r"[\s-]*LH$", re.IGNORECASE)
_CLASS = re.compile(r"\s*-\s*(?:\d[a-zA-Z]{1,2}(?:\d[a-zA-Z])?)$")
_KNOWN = tuple(parse_thread(name) for name in standard_threads())
