"""Values that every room shares: strict models, points, directions, frames and boxes (lengths in mm)."""

from __future__ import annotations

import math
from functools import cached_property
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationInfo

from schemas.tolerances import COINCIDENT

Vec3 = tuple[float, float, float]


class Model(BaseModel):
    """Strict and frozen: unknown keys, NaN and infinities are refused."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, populate_by_name=True, protected_namespaces=()
    )


FARTHEST = 1e5
"""No length of a plan is larger (mm): the largest part that is read has a diagonal of 20 m."""
PARALLEL = 5e-5
"""Sine of the least angle between the two directions of a frame: less leaves its x to rounding."""
GREATEST = 1e12
"""No other number of a plan is larger, whatever its unit: the report multiplies some of them."""
LEAST = 1e-9
"""... nor, where it is above zero, smaller; for lengths see ``COINCIDENT``."""


def _scaled(value: float, info: ValidationInfo) -> float:
    """A length in mm. What comes from a plan is held to what a machine can mean."""
    if info.context is None:
        return value
    context: dict[str, Any] = info.context
    length = value * float(context.get("scale", 1.0))
    if abs(length) > FARTHEST:
        raise ValueError(f"no length may be beyond {FARTHEST / 1000:g} m")
    return length


def _above_nothing(value: float, info: ValidationInfo) -> float:
    if info.context is not None and value <= COINCIDENT:
        raise ValueError(f"a length that must be above 0 must be above {COINCIDENT:g} mm")
    return value


def _possible(value: float, info: ValidationInfo) -> float:
    """A plan's number other than a length, held to what the report can reckon with."""
    if info.context is not None and (abs(value) > GREATEST or 0 < abs(value) < LEAST):
        raise ValueError(f"give 0 or a number between {LEAST:g} and {GREATEST:g}")
    return value


def _has_direction(value: Vec3) -> Vec3:
    if not LEAST <= max(map(abs, value)) <= GREATEST:
        raise ValueError("a direction must not be a null vector, nor longer than a number can say")
    return value


Number = Annotated[float, Field(strict=True), AfterValidator(_possible)]
"""A JSON number; a string that looks like one is refused."""
Length = Annotated[float, Field(strict=True), AfterValidator(_scaled)]
"""A length: the plan's units outside, mm inside (the validation context carries the factor)."""
Positive = Annotated[float, Field(strict=True, gt=0), AfterValidator(_scaled), AfterValidator(_above_nothing)]
"""A length above zero."""
NotNegative = Annotated[float, Field(strict=True, ge=0), AfterValidator(_scaled)]
"""A length of zero or more."""
Point = tuple[Length, Length, Length]
_Component = Annotated[float, Field(strict=True)]
Direction = Annotated[tuple[_Component, _Component, _Component], AfterValidator(_has_direction)]
"""A vector of any length but none."""
Identifier = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[A-Za-z0-9][A-Za-z0-9._ -]*$")]
"""A name that can stand in a report, a pointer or a file name."""


def dot(a: Vec3, b: Vec3) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec3, b: Vec3) -> Vec3:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def add(a: Vec3, b: Vec3, factor: float = 1.0) -> Vec3:
    """``a + factor * b``."""
    return (a[0] + factor * b[0], a[1] + factor * b[1], a[2] + factor * b[2])


def sub(a: Vec3, b: Vec3) -> Vec3:
    """``a - b``."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scale(a: Vec3, factor: float) -> Vec3:
    """``factor * a``."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def norm(a: Vec3) -> float:
    """Length of a vector."""
    return math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])


def unit(a: Vec3) -> Vec3:
    """The direction of ``a``; raises ValueError for a null vector. Exact axes stay exact."""
    size = norm(a)
    if size < 1e-12:
        raise ValueError("a direction must not be a null vector")
    factor = 1.0 / size
    return (_exact(a[0] * factor), _exact(a[1] * factor), _exact(a[2] * factor))


def _exact(component: float) -> float:
    nearest = round(component)
    return nearest + 0.0 if abs(component - nearest) < 1e-15 else component


class Frame(Model):
    """An ISO 10303-42 axis placement in the part's frame, right-handed, mm.

    ``axis`` is the local +Z, ``ref_direction`` fixes the local +X after it is squared against the axis.
    """

    location: Vec3 = (0.0, 0.0, 0.0)
    axis: Vec3 = (0.0, 0.0, 1.0)
    ref_direction: Vec3 = (1.0, 0.0, 0.0)

    @cached_property
    def z(self) -> Vec3:
        """Unit vector of local +Z."""
        return unit(self.axis)

    @cached_property
    def x(self) -> Vec3:
        """Unit vector of local +X, square to +Z."""
        z = self.z
        return unit(add(self.ref_direction, z, -dot(self.ref_direction, z)))

    @cached_property
    def y(self) -> Vec3:
        """Unit vector of local +Y."""
        return cross(self.z, self.x)

    def to_local(self, point: Vec3) -> Vec3:
        """The point of the part's frame, in this frame."""
        d = sub(point, self.location)
        return (dot(d, self.x), dot(d, self.y), dot(d, self.z))

    def to_world(self, point: Vec3) -> Vec3:
        """The point of this frame, in the part's frame."""
        return add(self.location, self.direction_to_world(point))

    def direction_to_local(self, direction: Vec3) -> Vec3:
        """A direction of the part's frame, in this frame."""
        return (dot(direction, self.x), dot(direction, self.y), dot(direction, self.z))

    def direction_to_world(self, direction: Vec3) -> Vec3:
        """A direction of this frame, in the part's frame."""
        return add(add(scale(self.x, direction[0]), self.y, direction[1]), self.z, direction[2])


def spans_a_frame(axis: Vec3, ref_direction: Vec3) -> None:
    """Raises ValueError where the two are parallel."""
    if norm(cross(unit(axis), unit(ref_direction))) < PARALLEL:
        raise ValueError("'ref_direction' must not be parallel to 'axis'")


AXES: tuple[Vec3, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def any_frame(location: Vec3, axis: Vec3) -> Frame:
    """A frame with the given +Z; +X is the part axis most nearly square to it (deterministic)."""
    z = unit(axis)
    slants = [round(abs(c), 9) for c in z]
    return Frame(location=location, axis=z, ref_direction=AXES[slants.index(min(slants))])


class Box(Model):
    """An axis-parallel box by its two corners."""

    min: Point
    max: Point

    @property
    def size(self) -> Vec3:
        """Edge lengths."""
        return sub(self.max, self.min)

    @property
    def mid(self) -> Vec3:
        """Centre."""
        return scale(add(self.min, self.max), 0.5)

    @property
    def diagonal(self) -> float:
        """Length of the space diagonal."""
        return norm(self.size)
