"""Frozen values as bytes and back: plain JSON of listed classes, arrays as they are, bodies in the kernel's exact form.

Every number comes back as it was, bit for bit. Bodies of one value keep what they share with each other, and what was
measured of them. Objects that both sides have (the plan's, the part's) are written as their place in a list.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel

import schemas.base
import schemas.feature
import worker.field
import worker.field.opinion
import worker.field.stock
import worker.kernel.measure
import worker.kernel.planar
import worker.kernel.planar_edge
import worker.kernel.stepio
import worker.part
import worker.reach.model
import worker.residual
import worker.stage.model
import worker.stage.standing
from worker.bundle import pack, unpack
from worker.kernel.mesh import bodies_from_bytes, bodies_to_bytes
from worker.kernel.shape import Body

ROOMS = (
    schemas.base, schemas.feature, worker.field, worker.field.stock, worker.field.opinion, worker.kernel.measure,
    worker.kernel.planar, worker.kernel.planar_edge, worker.kernel.stepio, worker.part, worker.reach.model,
    worker.residual, worker.stage.model, worker.stage.standing,
)  # fmt: skip
CLASSES: Mapping[str, type] = {
    one.__name__: one
    for room in ROOMS
    for one in vars(room).values()
    if isinstance(one, type) and one.__module__ == room.__name__ and (is_dataclass(one) or issubclass(one, BaseModel))
}
"""What may be written and read: the plain values that these rooms declare; any other class is refused."""
_PLAIN = (str, bool, int, float, type(None))
_TUPLE, _DICT, _BODY, _ARRAY, _SHARED = "t", "d", "b", "a", "x"
_KINDS = ("uint8", "int32", "int64", "float64", "bool")
"""Element types of arrays that may be written."""


class UnstorableError(Exception):
    """The value holds something of a class that is not listed."""


def encoded(value: Any, shared: Sequence[object] = ()) -> bytes:
    """The value as bytes. ``shared`` are objects that the reader will have too, in the same order.

    Raises UnstorableError.
    """
    writer = _Writer(shared)
    plain = writer.plain(value)
    text = json.dumps([plain, *(writer.plain(body.measured) for body in writer.bodies)], separators=(",", ":"))
    bodies = {"bodies": bodies_to_bytes(writer.bodies)} if writer.bodies else {}
    arrays = {f"array {number}": zlib.compress(array.tobytes(), 1) for number, array in enumerate(writer.arrays)}
    return pack({"value": text.encode(), **bodies, **arrays})


def decoded(data: bytes, shared: Sequence[object] = ()) -> Any:
    """The value of :func:`encoded`; raises whatever broken bytes bring about."""
    parts = unpack(data)
    bodies = bodies_from_bytes(parts["bodies"]) if "bodies" in parts else ()
    reader = _Reader(shared, bodies, parts)
    plain, *measured = json.loads(parts["value"])
    for body, known in zip(bodies, measured, strict=True):
        body.measured.update(reader.value(known))
    return reader.value(plain)


class _Writer:
    def __init__(self, shared: Sequence[object]) -> None:
        self._shared = {id(one): number for number, one in reversed(list(enumerate(shared)))}
        self._numbers: dict[int, int] = {}
        self.bodies: list[Body] = []
        self.arrays: list[NDArray[Any]] = []

    def plain(self, value: Any) -> Any:
        """The value in JSON's own types; a list begins with what it stands for."""
        if id(value) in self._shared and not isinstance(value, _PLAIN):
            return [_SHARED, self._shared[id(value)]]
        if isinstance(value, _PLAIN):
            return value
        if isinstance(value, Body):
            return [_BODY, self._number(value)]
        if type(value) is np.ndarray and str(value.dtype) in _KINDS:
            self.arrays.append(value)
            return [_ARRAY, len(self.arrays) - 1, str(value.dtype), *value.shape]
        if type(value) is tuple:
            return [_TUPLE, *map(self.plain, value)]
        if type(value) is dict:
            return [_DICT, *([self.plain(k), self.plain(v)] for k, v in value.items())]
        return self._object(value)

    def _number(self, body: Body) -> int:
        if id(body) not in self._numbers:
            self._numbers[id(body)] = len(self.bodies)
            self.bodies.append(body)
        return self._numbers[id(body)]

    def _object(self, value: Any) -> list[Any]:
        name = type(value).__name__
        if CLASSES.get(name) is not type(value):
            raise UnstorableError(name)
        return [name, *(self.plain(getattr(value, field)) for field in _names(type(value)))]


def _names(kind: type) -> tuple[str, ...]:
    if is_dataclass(kind):
        return tuple(field.name for field in fields(kind))
    return tuple(kind.model_fields) if issubclass(kind, BaseModel) else ()


class _Reader:
    def __init__(self, shared: Sequence[object], bodies: Sequence[Body], parts: Mapping[str, bytes]) -> None:
        self._tables: Mapping[str, Sequence[object]] = {_SHARED: shared, _BODY: bodies}
        self._parts = parts

    def value(self, plain: Any) -> Any:
        """The value of what ``plain`` wrote."""
        if not isinstance(plain, list):
            return plain
        tag, rest = plain[0], plain[1:]
        if tag in self._tables:
            return self._tables[tag][rest[0]]
        if tag == _ARRAY:
            number, kind, *shape = rest
            return np.frombuffer(zlib.decompress(self._parts[f"array {number}"]), kind).reshape(shape).copy()
        if tag == _DICT:
            return {self.value(key): self.value(value) for key, value in rest}
        made = tuple(map(self.value, rest))
        return made if tag == _TUPLE else _maker(tag)(*made)


def _maker(name: str) -> Callable[..., Any]:
    kind = CLASSES[name]
    if issubclass(kind, BaseModel):
        # what was written had been checked
        return lambda *values: kind.model_construct(**dict(zip(_names(kind), values, strict=True)))
    return kind
