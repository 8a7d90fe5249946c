"""What holds the stock: vise, fixture plate with elements, or given bodies (mm, N, the setup's frame)."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from schemas.base import (
    Box,
    Direction,
    Identifier,
    Length,
    Model,
    NotNegative,
    Number,
    Point,
    Positive,
    norm,
    spans_a_frame,
    sub,
)
from schemas.tolerances import COINCIDENT

JawSurface = Literal["smooth", "diamond_serration", "serrated"]


class Vise(Model):
    """Two jaws and two parallels; see the plan's own description for how the stock stands in it.

    Where the plan does not say them, jaws are taken 20 mm and parallels 6 mm thick (common practice).
    """

    type: Literal["vise"]
    jaw_axis: Literal["X", "Y"]
    jaw_width: Positive
    jaw_height: Positive
    jaw_thickness: Positive = 20.0
    jaw_offset: Length = 0.0
    parallel_height: NotNegative = 0.0
    parallel_thickness: Positive = 6.0
    max_opening: Positive | None = None
    clamping_force: Number | None = Field(default=None, gt=0, description="N")
    jaw_surface: JawSurface = "smooth"
    jaws: Literal["hard", "soft"] = "hard"
    nest_depth: Positive | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.jaws == "soft" and self.nest_depth is None:
            raise ValueError("soft jaws need 'nest_depth', the depth of the nest cut into them")
        if self.jaws == "hard" and self.nest_depth is not None:
            raise ValueError('\'nest_depth\' belongs to soft jaws: add "jaws": "soft"')
        if self.nest_depth is not None and self.nest_depth > self.jaw_height + COINCIDENT:
            raise ValueError("'nest_depth' must not exceed 'jaw_height', else the stock would stand in the vise's bed")
        if self.jaws == "hard" and self.jaw_height <= self.parallel_height:
            raise ValueError("'jaw_height' must exceed 'parallel_height', else the jaws grip nothing")
        return self


class Cylinder(Model):
    """A round bar between two points of its axis."""

    diameter: Positive
    from_: Point = Field(alias="from")
    to: Point

    @model_validator(mode="after")
    def _has_length(self) -> Self:
        if norm(sub(self.from_, self.to)) <= COINCIDENT:
            raise ValueError("'from' and 'to' of a cylinder are the same point")
        return self


class BoxSpec(Box):
    """A box {min, max} whose corners are in order."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if any(high - low <= COINCIDENT for low, high in zip(self.min, self.max, strict=True)):
            raise ValueError("each coordinate of 'min' must be smaller than that of 'max'")
        return self


class FixtureElement(Model):
    """One element of a fixture plate: exactly one of box, cylinder, step."""

    type: Literal["plate", "locator", "jack", "clamp", "bolt"]
    name: str | None = None
    box: BoxSpec | None = None
    cylinder: Cylinder | None = None
    step: Identifier | None = None
    force: Number | None = Field(default=None, gt=0, description="clamping force of a clamp or bolt, N")

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if sum(shape is not None for shape in (self.box, self.cylinder, self.step)) != 1:
            raise ValueError("give exactly one of 'box', 'cylinder', 'step'")
        if self.force is not None and self.type not in ("clamp", "bolt"):
            raise ValueError(f"a {self.type} does not press: 'force' belongs to a clamp or bolt")
        return self


class FixturePlate(Model):
    """A plate with what stands and clamps on it."""

    type: Literal["fixture_plate"]
    elements: tuple[FixtureElement, ...] = Field(min_length=1)


class Placement(Model):
    """ISO 10303-42 axis placement in the setup's frame."""

    location: Point = (0.0, 0.0, 0.0)
    axis: Direction = (0.0, 0.0, 1.0)
    ref_direction: Direction = (1.0, 0.0, 0.0)

    @model_validator(mode="after")
    def _spans_a_frame(self) -> Self:
        spans_a_frame(self.axis, self.ref_direction)
        return self


class PlacedBody(Model):
    """A STEP body sent along with the plan, where it stands in the setup."""

    step: Identifier
    placement: Placement = Placement()
    name: str | None = None


class Bodies(Model):
    """Given bodies; what they touch they support."""

    type: Literal["bodies"]
    bodies: tuple[PlacedBody, ...] = Field(min_length=1)


Workholding = Annotated[Vise | FixturePlate | Bodies, Field(discriminator="type")]
