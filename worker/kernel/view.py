"""A frame with its axes worked out once: for code that turns thousands of points into it."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.base import Frame, Vec3


@dataclass(frozen=True, slots=True)
class View:
    """Axes and origin of a frame (unit vectors and a point of the part's frame, mm)."""

    x: Vec3
    y: Vec3
    z: Vec3
    origin: Vec3

    def to_local(self, p: Vec3) -> Vec3:
        """The point of the part's frame, in this frame."""
        o = self.origin
        return self.direction_to_local((p[0] - o[0], p[1] - o[1], p[2] - o[2]))

    def direction_to_local(self, d: Vec3) -> Vec3:
        """A direction of the part's frame, in this frame."""
        a, b, c = d
        x, y, z = self.x, self.y, self.z
        return (a * x[0] + b * x[1] + c * x[2], a * y[0] + b * y[1] + c * y[2], a * z[0] + b * z[1] + c * z[2])


def view_of(frame: Frame) -> View:
    """The frame's axes, worked out."""
    return View(frame.x, frame.y, frame.z, frame.location)
