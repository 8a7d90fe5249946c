"""Rounded corners of a window that stand out into it: they are walls as those beside them are, and break no edge."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from schemas.base import cross, norm
from schemas.tolerances import SQUARE
from worker.recognise.patches import PartShape, Patch, Rim
from worker.recognise.strips import straight


@lru_cache(maxsize=1)
def window_corners(shape: PartShape) -> frozenset[int]:
    """The round walls that stand out between two walls of a window; kept for the part that was asked about last."""
    return frozenset(p.index for p in shape.patches if _stands_out(p) and _is_in_window(shape, p))


def _stands_out(patch: Patch) -> bool:
    """True for a cylinder that stands out, smoothly between two walls, on no floor."""
    surface = patch.surface
    if surface.kind != "cylinder" or surface.hollow or patch.concave:
        return False
    return len({r.other for r in straight(patch.rims) if r.convexity == "smooth"}) == 2


def _is_in_window(shape: PartShape, patch: Patch) -> bool:
    """True where the corner ends within a plane square to it, not at the plane's own border; or at a broken edge that
    does."""
    ends = [r for r in patch.rims if r.convexity == "convex"]
    return any(_is_inner(shape, patch, r) for end in ends for r in _at_plane(shape, end))


def _at_plane(shape: PartShape, end: Rim) -> Iterator[Rim]:
    """The end of a corner, or the edges of the strip that breaks it there."""
    other = shape.patches[end.other]
    yield from (end,) if other.surface.kind == "plane" else (r for r in other.rims if r.convexity == "convex")


def _is_inner(shape: PartShape, patch: Patch, rim: Rim) -> bool:
    plane = shape.patches[rim.other]
    if plane.surface.kind != "plane" or norm(cross(plane.surface.axis, patch.surface.axis)) > SQUARE:
        return False
    return any(r.edge == rim.edge for loop in plane.loops[1:] for r in loop)
