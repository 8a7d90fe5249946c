"""Designations of threads that are no plain 60 degree ones of one start: several starts, trapezoidal, tapered pipe.

Sources: ISO 965-1 and ISO 2904 for how several starts are written (lead, then pitch); ISO 2904 diameters and pitches,
first choice alone; ISO 7-1 and ASME B1.20.1 gauge diameters and threads an inch. Tables from memory.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from schemas.thread_series import SAME_MAJOR, SAME_PITCH, same_thread, thread_in_name, thread_named
from schemas.threads import Thread
from schemas.units import MM_PER_INCH

TRAPEZOID: dict[float, tuple[float, ...]] = {
    1.5: (8,),
    2: (10,),
    3: (12, 14),
    4: (16, 18, 20),
    5: (22, 24, 26, 28),
    6: (30, 32, 34, 36),
    7: (38, 40, 42, 44),
    8: (46, 48, 50, 52),
    9: (55, 60),
}
"""Nominal diameters by pitch (mm), ISO 2904."""
CLEARANCE = {1.5: 0.15, 2: 0.25, 3: 0.25, 4: 0.25, 5: 0.25}
"""Crest clearance a_c by pitch (mm), 0.5 from pitch 6 on: a nut's major diameter is 2 a_c above the nominal one."""
ISO_PIPE: dict[str, tuple[float, int]] = {
    "1/16": (7.723, 28), "1/8": (9.728, 28), "1/4": (13.157, 19), "3/8": (16.662, 19), "1/2": (20.955, 14),
    "3/4": (26.441, 14), "1": (33.249, 11), "1 1/4": (41.910, 11), "1 1/2": (47.803, 11), "2": (59.614, 11),
}  # fmt: skip
"""Major diameter at the gauge plane (mm) and threads an inch, flanks of 55 degrees, ISO 7-1."""
INCH_PIPE: dict[str, tuple[float, float]] = {
    "1/16": (7.938, 27), "1/8": (10.287, 27), "1/4": (13.716, 18), "3/8": (17.145, 18), "1/2": (21.336, 14),
    "3/4": (26.670, 14), "1": (33.401, 11.5), "1 1/4": (42.164, 11.5), "1 1/2": (48.260, 11.5), "2": (60.325, 11.5),
}  # fmt: skip
"""Outside diameter of the pipe (mm) and threads an inch, flanks of 60 degrees, ASME B1.20.1."""
PIPE_TAPER = 1 / 32
"""What the radius of both kinds grows by along the axis (ratio)."""
SAME_TAPER = 0.1
"""A measured taper is that within this share."""
TURNED = math.radians(1.2)
"""A measured flank has a standard's angle within this (rad): half of what parts 55 from 60 degrees."""
OF_60, OF_55, OF_30 = math.radians(30), math.radians(27.5), math.radians(15)


@dataclass(frozen=True, slots=True)
class MeasuredThread:
    """What a modelled thread measures (mm, rad). ``major``: from crest to crest outside, of a tapered one its least and
    greatest along the thread; ``flank``: against a plane square to the axis; ``taper``: growth of the radius per mm.
    """

    major: tuple[float, float]
    pitch: float
    starts: int
    left: bool
    inside: bool
    flank: float
    taper: float = 0.0


def designation_of(thread: MeasuredThread) -> str:
    """Such as M8x1.25, M12xPh3.5P1.75, Tr40x14P7-LH, Rc 1/2; one that is no standard thread by its sizes alone."""
    if thread.taper:
        return _tapered(thread)
    major = thread.major[1]
    if abs(thread.flank - OF_30) < TURNED:
        plain = _trapezoid(thread) or f"ø {round(major, 2):g} x {round(thread.pitch, 3):g}"
    else:
        plain = thread_named(major, thread.pitch)
    several = _several(plain, thread) if thread.starts > 1 else plain
    return several + "-LH" * thread.left


def _trapezoid(thread: MeasuredThread) -> str | None:
    major = thread.major[1]
    found: list[tuple[float, float, float]] = []
    for pitch, sizes in TRAPEZOID.items():
        if abs(pitch - thread.pitch) <= SAME_PITCH * pitch:
            spare = 2 * CLEARANCE.get(pitch, 0.5) if thread.inside else 0.0
            found += [(min(abs(major - d), abs(major - spare - d)), d, pitch) for d in sizes]
    gap, d, pitch = min(found, default=(math.inf, 0.0, 0.0))
    return f"Tr{d:g}x{pitch:g}" if gap <= SAME_MAJOR * thread.pitch else None


def _several(plain: str, thread: MeasuredThread) -> str:
    """The lead before the pitch; what is no metric thread is told by its sizes, as no standard writes it."""
    lead = round(thread.starts * thread.pitch, 3)
    size, _, pitch = plain.partition("x")
    if plain.startswith("Tr"):
        return f"{size}x{lead:g}P{pitch}"
    if plain.startswith("M"):
        return f"{size}xPh{lead:g}P{pitch}"
    return f"ø {round(thread.major[1], 2):g} x {lead:g}P{round(thread.pitch, 3):g}"


def _tapered(thread: MeasuredThread) -> str:
    """A pipe thread, where the gauge plane's diameter is found along it."""
    low, high = thread.major
    iso, inch = (abs(thread.flank - angle) < TURNED for angle in (OF_55, OF_60))
    series: dict[str, tuple[float, float]] = {**ISO_PIPE} if iso else {**INCH_PIPE} if inch else {}
    word = ("Rc" if thread.inside else "R") if iso else "NPT"
    slack = SAME_MAJOR * thread.pitch
    for size, (diameter, per_inch) in series.items():
        pitch = MM_PER_INCH / per_inch
        alike = abs(thread.pitch - pitch) <= SAME_PITCH * pitch and abs(thread.taper / PIPE_TAPER - 1) < SAME_TAPER
        if alike and thread.starts == 1 and low - slack <= diameter <= high + slack:
            return f"{word} {size}" + "-LH" * thread.left
    sizes = f"ø {round(low, 2):g}/{round(high, 2):g} x {round(thread.starts * thread.pitch, 3):g}"
    return sizes + (f"P{round(thread.pitch, 3):g}" if thread.starts > 1 else "") + "-LH" * thread.left


_SIZES = re.compile(r"^ø (\d+(?:\.\d+)?) x (\d+(?:\.\d+)?)(-LH)?$")


def is_tapped(stated: str) -> bool:
    """Whether a tap that a plan can name makes the stated thread: none has several starts, a taper, other flanks."""
    return thread_in_name(stated) is not None or _SIZES.match(stated) is not None


def makes(thread: Thread, stated: str) -> bool:
    """Whether a tap's thread is the stated one: of one start, parallel, with flanks of 60 degrees as all taps here."""
    named = thread_in_name(stated)
    if named is not None:
        return same_thread(named, thread)
    sizes = _SIZES.match(stated)
    if sizes is None:
        return False
    major, pitch = float(sizes[1]), float(sizes[2])
    alike = abs(major - thread.major) <= SAME_MAJOR * pitch and abs(pitch - thread.pitch) <= SAME_PITCH * pitch
    return alike and bool(sizes[3]) == thread.left
