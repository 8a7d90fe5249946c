"""Points that judge a boolean without its sections: one in the middle of every face, before and after.

A face that a cut should have taken but kept, or taken but should have kept, shows by where its inner point lies.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from OCP.Bnd import Bnd_Box
from OCP.gp import gp_Pnt
from OCP.TopAbs import TopAbs_ShapeEnum, TopAbs_State
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

from schemas.tolerances import COINCIDENT
from worker.kernel.errors import KernelError
from worker.kernel.history import Origin
from worker.kernel.measure import bounding_box, classifiers, face_point_inside
from worker.kernel.planar_edge import Floats
from worker.kernel.rays import Sides, rough_box
from worker.kernel.shape import Body, compound_of, faces, of_xyz, shape_map, solids, to_pnt


class Inside:
    """Answers for one body; each solid is loaded when a point first falls into its box."""

    def __init__(self, body: Body) -> None:
        self._solids = [(_wide_box(solid), solid) for solid in solids(body)]
        self._sides: dict[int, Sides] = {}

    def __call__(self, point: gp_Pnt) -> bool | None:
        """True strictly inside, False strictly outside, None on the surface."""
        answer: bool | None = False
        for number, (box, solid) in enumerate(self._solids):
            if box.IsOut(point):
                continue
            state = self._state(number, solid, point)
            if state == TopAbs_State.TopAbs_IN:
                return True
            if state != TopAbs_State.TopAbs_OUT:
                answer = None
        return answer

    def shared(self, point: gp_Pnt) -> bool:
        """Whether two solids of the body meet or overlap there: a face between them bounds nothing."""
        near = [n for n, (box, _) in enumerate(self._solids) if not box.IsOut(point)]
        if len(near) < 2:
            return False
        touched = [n for n in near if self._state(n, self._solids[n][1], point) != TopAbs_State.TopAbs_OUT]
        return len(touched) > 1

    def _state(self, number: int, solid: Body, point: gp_Pnt) -> TopAbs_State:
        if number not in self._sides:
            self._sides[number] = Sides(solid)
        return self._sides[number].state(point)


KEPT = 16
"""Bodies of which it is kept what was found out: a part of many faces is held to one tool after the other."""


@lru_cache(maxsize=KEPT)
def _inside(body: Body) -> Inside:
    return Inside(body)


@lru_cache(maxsize=KEPT)
def _known_points(body: Body) -> dict[int, gp_Pnt | None]:
    """The inner points of its faces, by their numbers, as far as they were asked for."""
    return {}


def _wide_box(solid: Body) -> Bnd_Box:
    found = rough_box(solid.wrapped)
    found.Enlarge(COINCIDENT)
    return found


STOCK_QUESTIONS = 60
"""How many of a split's new faces are looked up in the stock."""
Sources = Sequence[Sequence[Origin]]
"""For each face of a result the arguments' faces it is a piece of: it lies on their surface, no need to ask."""


def probe_cut(arguments: Sequence[Body], result: Body, origin: Sources) -> str:
    """What is wrong with a cut, or "": faces left inside a tool, taken outside all tools, or never made."""
    in_stock, in_tools = _inside(arguments[0]), [Inside(tool) for tool in arguments[1:]]
    for index, point in _inner_points(result):
        owners = {number for number, _ in origin[index]}
        if any(inside(point) is True for n, inside in enumerate(in_tools, start=1) if n not in owners):
            return f"face {index} of the result stands inside a tool"
        if 0 not in owners and in_stock(point) is False:
            return f"face {index} of the result stands outside the stock"
    for number, index, point in _without_image(arguments, origin):
        if number > 0 and in_tools[number - 1].shared(point):
            continue
        if number == 0 and all(inside(point) is False for inside in in_tools):
            return f"face {index} of the stock is gone where no tool was"
        others = (inside for n, inside in enumerate(in_tools, start=1) if n != number)
        if number > 0 and in_stock(point) is True and all(inside(point) is False for inside in others):
            return f"face {index} of tool {number} left no wall in the stock"
    return ""


def probe_common(arguments: Sequence[Body], result: Body, origin: Sources) -> str:
    """What is wrong with a common, or "": faces outside one body, or missing inside both."""
    in_body, in_tools = _inside(arguments[0]), [Inside(tool) for tool in arguments[1:]]
    for index, point in _inner_points(result):
        owners = {number for number, _ in origin[index]}
        outside = not owners - {0} and all(inside(point) is False for inside in in_tools)
        if outside or (0 not in owners and in_body(point) is False):
            return f"face {index} of the result does not lie in both bodies"
    for number, index, point in _without_image(arguments, origin):
        if number > 0 and in_tools[number - 1].shared(point):
            continue
        others = [inside for n, inside in enumerate(in_tools, start=1) if n != number]
        if number == 0 and any(inside(point) is True for inside in in_tools):
            return f"face {index} of the body is missing inside a tool"
        if number > 0 and in_body(point) is True and all(inside(point) is False for inside in others):
            return f"face {index} of tool {number} is missing inside the body"
    return ""


def probe_pieces(arguments: Sequence[Body], pieces: Sequence[tuple[Body, Sequence[int]]], sources: Sources) -> str:
    """What is wrong with a split, or "": a face of a piece outside the stock, outside a tool that the piece is said
    to lie in, or inside one that it is said to lie out of; a tool in the metal that no piece lies in (tools are
    numbered from 0). ``sources`` are those of the faces of all pieces together.
    """
    in_tools = [Inside(tool) for tool in arguments[1:]]
    boxes, points = _Boxes(arguments[1:]), _Points(compound_of(piece.wrapped for piece, _ in pieces))
    made: dict[int, gp_Pnt] = {}
    for piece, members in pieces:
        own = list(points.of(piece))
        for (index, number, point), around in zip(own, boxes.around([point for _, _, point in own]), strict=True):
            owners = {argument for argument, _ in sources[number]}
            if 0 not in owners:
                made[number] = point
            for tool in around | set(members):
                if tool + 1 not in owners and in_tools[tool](point) is (tool not in members):
                    return f"face {index} of a piece is on the wrong side of tool {tool}"
    in_stock = _inside(arguments[0])  # a stock of many faces answers slowly: ask it about some of the new faces only
    for number in sorted(set(range(len(in_tools))) - {n for _, members in pieces for n in members}):
        if any(in_stock(point) is True for _, point in _inner_points(arguments[number + 1])):
            return f"tool {number} stands in the stock and took no piece of it"
    if any(in_stock(point) is False for point in list(made.values())[:: 1 + len(made) // STOCK_QUESTIONS]):
        return "a face of a piece stands outside the stock"
    return ""


class _Points:
    """A point in the middle of each face of a shape: pieces that meet in a face share it."""

    def __init__(self, whole: TopoDS_Shape) -> None:
        self._index = shape_map(whole, TopAbs_ShapeEnum.TopAbs_FACE)
        self._known: dict[int, gp_Pnt | None] = {}

    def of(self, piece: Body) -> Iterator[tuple[int, int, gp_Pnt]]:
        """Of each face of a piece that has one: its number there, its number in the whole, and the point."""
        for index, face in enumerate(faces(piece)):
            number = self._index.FindIndex(face) - 1
            if number not in self._known:
                self._known[number] = _inner_point(face)
            point = self._known[number]
            if point is not None:
                yield index, number, point


class _Boxes:
    """The boxes of many bodies, asked at once."""

    def __init__(self, bodies: Sequence[Body]) -> None:
        found = [bounding_box(body) for body in bodies]
        self._low = np.array([box.min for box in found]).reshape(-1, 3) - COINCIDENT
        self._high = np.array([box.max for box in found]).reshape(-1, 3) + COINCIDENT

    def around(self, points: Sequence[gp_Pnt]) -> list[set[int]]:
        """For each point the numbers of the boxes that hold it."""
        at = np.array([of_xyz(point) for point in points]).reshape(-1, 1, 3)
        found: list[set[int]] = [set() for _ in points]
        for point, number in zip(*np.nonzero(((self._low <= at) & (at <= self._high)).all(axis=2)), strict=True):
            found[int(point)].add(int(number))
        return found


def _inner_points(body: Body) -> Iterator[tuple[int, gp_Pnt]]:
    for index, face in enumerate(faces(body)):
        point = _inner_point(face)
        if point is not None:
            yield index, point


def _inner_point(face: TopoDS_Face) -> gp_Pnt | None:
    try:
        return to_pnt(face_point_inside(face))
    except KernelError:  # a sliver without an inner point has nothing to say
        return None


def _without_image(arguments: Sequence[Body], origin: Sources) -> Iterator[tuple[int, int, gp_Pnt]]:
    """Argument number, face index and inner point of every input face that the result shows nothing of."""
    seen = {source for sources in origin for source in sources}
    for number, argument in enumerate(arguments):
        points, every = {} if number else _known_points(argument), faces(argument)
        for index in (i for i in range(len(every)) if (number, i) not in seen):
            if index not in points:
                points[index] = _inner_point(every[index])
            if (point := points[index]) is not None:
                yield number, index, point


class Points:
    """Many points (N, 3) in mm, each on a face of something (N,), asked again and again what lies in a body."""

    def __init__(self, at: NDArray[np.float64], faces: NDArray[np.int32]) -> None:
        self._at, self._faces = at, faces

    def faces_inside(self, body: Body, may: Callable[[Floats], NDArray[np.bool_]] | None = None) -> set[int]:
        """The faces of which at least one point lies strictly inside the body: once one does, no other is looked up.

        ``may`` tells of points (n, 3) which can lie in it at all, where the caller knows better than the body's box.
        """
        found: set[int] = set()
        for box, solid in classifiers(body, COINCIDENT):
            low, high = of_xyz(box.CornerMin()), of_xyz(box.CornerMax())
            near = np.flatnonzero(np.all((self._at > low) & (self._at < high), axis=1))
            near = near[may(self._at[near])] if may is not None and len(near) else near
            for number, face in zip(near.tolist(), self._faces[near].tolist(), strict=True):
                if face not in found and self._is_in(solid, number):
                    found.add(face)
        return found

    def _is_in(self, solid: Sides, number: int) -> bool:
        return bool(solid.state(gp_Pnt(*self._at[number].tolist())) == TopAbs_State.TopAbs_IN)
