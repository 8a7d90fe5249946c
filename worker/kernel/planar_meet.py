"""Where edges of the plane meet, told of edges that are asked again and again: what each needs is worked out once (mm).

Two edges that keep several tolerances apart are told so first, by the side of a line or the ring of a circle on which
the other lies: most pairs whose boxes meet end there.
"""

from __future__ import annotations

import math

from worker.kernel.planar_edge import Edge, Point2, angle_of, bounds

FAR = 4.0
"""So many tolerances from a line or circle nothing of an edge can touch it, whatever the rounding."""


class Known:
    """An edge with its length (mm) and all else that meeting another needs."""

    __slots__ = ("_box", "ax", "ay", "bx", "by", "cx", "cy", "dx", "dy", "edge", "long", "radius", "size", "slack",
                 "square", "start", "way")  # fmt: skip

    def __init__(self, edge: Edge) -> None:
        self.edge = edge
        self._box: tuple[float, float, float, float] | None = None
        (self.ax, self.ay), (self.bx, self.by) = edge.a, edge.b
        if edge.centre is None:
            self.dx, self.dy = self.bx - self.ax, self.by - self.ay
            self.long = math.hypot(self.ax - self.bx, self.ay - self.by)
            self.square = self.dx * self.dx + self.dy * self.dy
            return
        self.cx, self.cy = edge.centre
        self.radius, self.size = edge.radius, abs(edge.sweep)
        self.long = self.size * edge.radius
        self.start, self.way = angle_of(edge.centre, edge.a), math.copysign(1.0, edge.sweep)
        self.slack = (math.tau - self.size) / 2

    @property
    def box(self) -> tuple[float, float, float, float]:
        """xmin, ymin, xmax, ymax."""
        if self._box is None:
            self._box = bounds(self.edge)
        return self._box

    @property
    def straight(self) -> bool:
        """True for a line."""
        return self.edge.centre is None

    def fraction(self, p: Point2) -> float:
        """Where a point near the edge lies along it: 0 at ``a``, 1 at ``b``; beyond the ends outside that range."""
        if self.edge.centre is None:
            return ((p[0] - self.ax) * self.dx + (p[1] - self.ay) * self.dy) / self.square
        turn = (math.atan2(p[1] - self.cy, p[0] - self.cx) - self.start) * self.way
        return ((turn + self.slack) % math.tau - self.slack) / self.size

    def touches(self, p: Point2, tol: float) -> bool:
        """True when the point lies on the edge within ``tol``, or past an end by as much."""
        if self.edge.centre is None:
            off = abs((p[0] - self.ax) * self.dy - (p[1] - self.ay) * self.dx)
            if off > tol * self.long:
                return False
        elif abs(math.hypot(p[0] - self.cx, p[1] - self.cy) - self.radius) > tol:
            return False  # the distance is quicker to tell than the angle
        t = self.fraction(p)
        return not (t * self.long < -tol or (t - 1) * self.long > tol)


def crossings(e: Known, f: Known, tol: float) -> list[Point2]:
    """Points that lie on both edges within ``tol``; of an overlap its ends."""
    if _clear(e, f, tol):
        return []
    found = [p for p in (f.edge.a, f.edge.b) if e.touches(p, tol)]
    found += [p for p in (e.edge.a, e.edge.b) if f.touches(p, tol)]
    return found + [p for p in _proper(e, f, tol) if e.touches(p, tol) and f.touches(p, tol)]


def _clear(e: Known, f: Known, tol: float) -> bool:
    """True when the two keep far apart for sure."""
    if e.straight:
        if f.straight:
            return _on_one_side(e, f, tol) or _on_one_side(f, e, tol)
        return _off_ring(e, f, tol)
    if f.straight:
        return _off_ring(f, e, tol)
    gap, far = math.hypot(e.cx - f.cx, e.cy - f.cy), FAR * tol
    return gap > e.radius + f.radius + far or gap < abs(e.radius - f.radius) - far


def _on_one_side(e: Known, f: Known, tol: float) -> bool:
    """True when a line lies off another's, on one side of it."""
    one = (f.ax - e.ax) * e.dy - (f.ay - e.ay) * e.dx
    other = (f.bx - e.ax) * e.dy - (f.by - e.ay) * e.dx
    far = FAR * tol * e.long
    return (one > far and other > far) or (one < -far and other < -far)


def _off_ring(line: Known, arc: Known, tol: float) -> bool:
    """True when a line passes an arc's circle outside, or ends within it on both sides."""
    off = abs((arc.cx - line.ax) * line.dy - (arc.cy - line.ay) * line.dx)
    if off > (arc.radius + FAR * tol) * line.long:
        return True
    within = arc.radius - FAR * tol
    return (
        math.hypot(line.ax - arc.cx, line.ay - arc.cy) < within
        and math.hypot(line.bx - arc.cx, line.by - arc.cy) < within
    )


def _proper(e: Known, f: Known, tol: float) -> list[Point2]:
    """Where the two lines or circles meet, whole as they are."""
    if e.straight and f.straight:
        return _line_line(e, f)
    if e.straight:
        return _line_circle(e, f, tol)
    return _line_circle(f, e, tol) if f.straight else _circle_circle(e, f, tol)


def _line_line(e: Known, f: Known) -> list[Point2]:
    det = e.dx * f.dy - e.dy * f.dx
    if abs(det) <= 1e-9 * e.long * f.long:
        return []
    t = ((f.ax - e.ax) * f.dy - (f.ay - e.ay) * f.dx) / det
    return [(e.ax + t * e.dx, e.ay + t * e.dy)]


def _line_circle(line: Known, arc: Known, tol: float) -> list[Point2]:
    ux, uy = line.dx / line.long, line.dy / line.long
    along = (arc.cx - line.ax) * ux + (arc.cy - line.ay) * uy
    foot = (line.ax + along * ux, line.ay + along * uy)
    off = math.hypot(foot[0] - arc.cx, foot[1] - arc.cy)
    if off > arc.radius - 1e-12:
        return [foot] if off <= arc.radius + tol else []
    half = math.sqrt(arc.radius**2 - off**2)
    return [(foot[0] + s * half * ux, foot[1] + s * half * uy) for s in (-1, 1)]


def _circle_circle(e: Known, f: Known, tol: float) -> list[Point2]:
    r, s = e.radius, f.radius
    gap = math.hypot(e.cx - f.cx, e.cy - f.cy)
    if gap < 1e-9 or gap > r + s + tol or gap < abs(r - s) - tol:
        return []
    along = (gap * gap + r * r - s * s) / (2 * gap)
    height = math.sqrt(max(r * r - along * along, 0.0))
    ux, uy = (f.cx - e.cx) / gap, (f.cy - e.cy) / gap
    foot = (e.cx + along * ux, e.cy + along * uy)
    return [(foot[0] - k * height * uy, foot[1] + k * height * ux) for k in ((-1, 1) if height > 0 else (1,))]
