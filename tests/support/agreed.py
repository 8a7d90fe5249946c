"""A setup cut by the product, of which both computations tell the same."""

from __future__ import annotations

from examples.shapes import Shape
from tests.support.trial import Json, inputs
from worker.field import second_opinion
from worker.locate import on_feature_of
from worker.pipeline import cut_all
from worker.resolve import resolve
from worker.stage.model import Stage


def agreed(part: Shape, document: Json) -> Stage:
    """The plan's only setup; fails where the second computation differs, or took a step over."""
    found = inputs(part, document)
    resolved = resolve(found.plan, found.part.features, on_feature_of(found.part))
    stages = cut_all(found, resolved, lambda _: None)
    (opinion,) = second_opinion(found.plan, found.part, stages)
    assert opinion.agrees and opinion.borrowed == ()
    return stages[0]
