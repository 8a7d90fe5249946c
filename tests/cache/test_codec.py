"""Values as bytes and back: every number to the bit, bodies with what they share, nothing of a class not listed."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass

import numpy as np
import pytest

from schemas.base import Frame
from tests.support.plate import on_plate, plate
from tests.support.trial import inputs, stages_of
from worker.bundle import unpack
from worker.cache.codec import CLASSES, ROOMS, UnstorableError, decoded, encoded
from worker.kernel import boolean, measure
from worker.kernel.primitives import box, cylinder
from worker.kernel.shape import EMPTY, Body, compound, faces, is_empty
from worker.recognise import recognise
from worker.stage.model import Plunge

NUMBERS = (0.1 + 0.2, -0.0, math.inf, 5e-324, 1.7976931348623157e308, 1 / 3, 2**60, True, None, "x\u0000\u2028")


def text(data: bytes) -> bytes:
    """The part of an encoded value that is not geometry."""
    return unpack(data)["value"]


def test_numbers_come_back_to_the_bit() -> None:
    again = decoded(encoded(NUMBERS))
    assert repr(again) == repr(NUMBERS)
    assert [type(v) for v in again] == [type(v) for v in NUMBERS]


def test_arrays_come_back_to_the_bit_and_may_be_written_to() -> None:
    arrays = (
        np.array([[0.1, -0.0], [np.nan, np.inf]]),
        np.arange(5, dtype=np.int64),
        np.zeros((0, 3)),
        np.array([True]),
    )
    again = decoded(encoded(arrays))
    assert [a.tobytes() for a in again] == [a.tobytes() for a in arrays]
    assert [(a.dtype, a.shape) for a in again] == [(a.dtype, a.shape) for a in arrays]
    again[0][0, 0] = 1.0
    with pytest.raises(UnstorableError):
        encoded(np.array([object()]))


def test_no_two_rooms_list_the_same_name() -> None:
    named = [c for room in ROOMS for c in vars(room).values() if isinstance(c, type) and c.__module__ == room.__name__]
    assert all(CLASSES.get(c.__name__, c) is c for c in named)


def test_values_of_listed_classes_come_back_equal() -> None:
    plunge = Plunge("round_hole-1", (1.0, 2.0, 1 / 3), 6.6, 0.1, -0.2, -0.3)
    value = {("S1", "10"): (plunge, Frame(location=(1 / 3, 0.0, -0.0))), "": {}}
    assert decoded(encoded(value)) == value


@dataclass(frozen=True)
class Plunge2(Plunge):
    """A class that nobody listed."""


@pytest.mark.parametrize("value", [object(), [1], {1}, b"x", Plunge2("a", (0, 0, 0), 1, 2, 3, 4), json])
def test_what_is_not_listed_is_refused(value: object) -> None:
    with pytest.raises(UnstorableError):
        encoded((value,))


def test_a_class_of_the_same_name_is_not_the_listed_one() -> None:
    imposter = type("Plunge", (), {})()
    with pytest.raises(UnstorableError):
        encoded(imposter)


def test_bodies_keep_their_faces_in_order_and_what_they_share() -> None:
    block = box((0, 0, 0), (30, 20, 10))
    drilled = boolean.cut(block, [cylinder((10, 10, -1), (10, 10, 11), 6)])
    both = compound([block, drilled])
    first, second, third, again, nothing = decoded(encoded((block, drilled, drilled, both, EMPTY)))
    assert second is third and is_empty(nothing)
    for old, new in ((block, first), (drilled, second), (both, again)):
        assert [measure.area(f) for f in faces(new)] == [measure.area(f) for f in faces(old)]
        assert measure.volume(new) == measure.volume(old)
    assert shared_faces(first, again) == shared_faces(block, both) == 6


def shared_faces(a: Body, b: Body) -> int:
    return sum(f.IsPartner(g) for f in faces(a) for g in faces(b))


def test_what_was_measured_of_a_body_comes_back_to_the_bit() -> None:
    """By hand: a turned block's volume is the product of its edges, its box in its own axes runs along them."""
    turned = Frame(location=(1.0, 2.0, 3.0), axis=(0.6, 0.0, 0.8), ref_direction=(0.8, 0.0, -0.6))
    body, asked_not = box((0, 0, 0), (1, 2, 1 / 3), turned), box((0, 0, 0), (1, 1, 1))
    measure.volume(body), measure.bounding_box(body), measure.bounding_box(body, turned)
    again, other = decoded(encoded((body, asked_not)))
    assert again.measured == body.measured and not other.measured
    assert measure.volume(again) == pytest.approx(2 / 3, rel=1e-12)
    assert measure.bounding_box(again, turned).max == pytest.approx((1, 2, 1 / 3), abs=1e-12)


def test_objects_that_both_sides_have_are_not_written() -> None:
    block, frame = box((0, 0, 0), (30, 20, 10)), Frame()
    data = encoded((block, (frame, block)), [frame, block])
    assert "bodies" not in unpack(data)
    other = box((0, 0, 0), (1, 1, 1))
    assert decoded(data, ["frame", other]) == (other, ("frame", other))


def test_stages_and_features_are_listed_through_and_through() -> None:
    """Were some class of a stage not listed, nothing would ever be kept, and only the clock would tell."""
    (stage,) = stages_of(plate(), on_plate())
    data = encoded(stage, [stage.setup, stage.as_is, *(o for c in stage.cuts for o in (c.step, c.tool, *c.features))])
    again = decoded(data, [stage.setup, stage.as_is, *(o for c in stage.cuts for o in (c.step, c.tool, *c.features))])
    assert again.as_is is stage.as_is and again.cuts[0].tool is stage.cuts[0].tool
    assert again.balance == stage.balance and again.holding.jaws == stage.holding.jaws
    assert measure.volume(again.to_be) == measure.volume(stage.to_be)
    part = inputs(plate(), on_plate()).part
    features = recognise(part.body)
    assert decoded(encoded(features)) == features
    assert text(encoded(decoded(encoded(features)))) == text(encoded(features))


@pytest.mark.parametrize("data", [b"", b"\0" * 8, b"\xff" * 40, encoded((1,))[:-1]])
def test_broken_bytes_raise(data: bytes) -> None:
    with pytest.raises(Exception):  # noqa: B017  whatever it is, the caller takes it for absence
        decoded(data)
