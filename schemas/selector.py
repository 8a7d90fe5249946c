"""How a workingstep names what it cuts: an id from the recogniser, or a selector."""

from __future__ import annotations

from typing import Any, Self

from pydantic import Field, model_validator

from schemas.base import Direction, Model, NotNegative, Point, Positive
from schemas.feature import FeatureClass


class Selector(Model):
    """Features by class, size and place; every key that is given must match. ``at`` is a point of the part's frame."""

    class_: FeatureClass | None = Field(default=None, alias="class")
    diameter: Positive | None = None
    normal: Direction | None = None
    axis: Direction | None = None
    at: Point | None = None
    depth_min: NotNegative | None = None
    depth_max: NotNegative | None = None
    count: int | None = Field(default=None, ge=1, strict=True)

    @model_validator(mode="before")
    @classmethod
    def _has_no_id(cls, value: Any) -> Any:
        if isinstance(value, dict) and "id" in value:
            raise ValueError(
                'a feature\'s id stands by itself, as in "features": ["slot-1a2b"]: write it in place of {...}'
            )
        return value

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not (self.model_fields_set - {"count"}):
            raise ValueError("a selector needs at least one key beside 'count'")
        return self
