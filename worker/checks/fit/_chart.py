"""The usual tap drill of a thread, and the thread of a modelled hole."""

from __future__ import annotations

import math

from schemas.threads import COARSE, Thread, parse_thread
from schemas.tolerances import LENGTH
from schemas.units import MM_PER_INCH


def chart_drill(thread: Thread) -> float:
    """The usual tap drill, mm: d - P to the nearest tenth, halves to the even one (ISO 2306: M8 6.8, M12 10.2).

    Unified threads: d - P down to 1/64 in. Where that leaves the minor-diameter limits, their middle.
    """
    wanted = thread.major - thread.pitch
    rounded = (
        math.floor(wanted / MM_PER_INCH * 64 + 1e-6) / 64 * MM_PER_INCH if thread.unified else round(wanted * 10) / 10
    )
    if thread.minor <= rounded <= thread.minor_max:
        return round(rounded, 6)
    return round((thread.minor + thread.minor_max) / 2, 3)


def suits(thread: Thread, diameter: float, over: float) -> bool:
    """Whether a hole (mm) lies in the thread's minor-diameter limits, the upper one widened by ``over`` mm."""
    return thread.minor - LENGTH <= diameter <= thread.minor_max + over


def coarse_thread_for(diameter: float) -> str | None:
    """The ISO coarse thread whose 6H minor limits hold a modelled diameter (mm); None when there is none."""
    for thread in (parse_thread(f"M{major:g}") for major in COARSE):
        if thread.minor - LENGTH <= diameter <= thread.minor_max:
            return thread.designation
    return None
