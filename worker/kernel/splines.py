"""Points and slopes of Bezier and B-spline curves and surfaces, of many at once: the kernel tells their poles alone.

Asking the kernel for one point after the other takes some ten times as long. After de Boor, On calculating with
B-splines, J. Approx. Theory 6 (1972) 50-62, and Cox, J. Inst. Maths Applics 10 (1972) 134-149.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import pairwise
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.Geom import Geom_BSplineCurve, Geom_BSplineSurface
from OCP.GeomAbs import GeomAbs_CurveType, GeomAbs_SurfaceType
from OCP.TColStd import TColStd_Array1OfReal

Array = NDArray[np.float64]
Knots = tuple[float, ...]
Item = TypeVar("Item")
FEWEST, MOST = 4, 120
"""So many alike are looked at together at least: fewer the kernel is as quick with. And so many poles at most."""
AT_ONCE = 256
"""Splines that are looked at together: what they take fits into a processor's own memory."""
ON_KNOT = 1e-9
"""Parameters nearer to a knot are on it."""


class Net(NamedTuple):
    """A curve or surface: along each of its parameters the degree, knots and bounds; its poles (k, d) or (k, m, d).

    d = 3, or 4 with weights: then poles are multiplied by theirs, which comes last.
    """

    degrees: tuple[int, ...]
    knots: tuple[Knots, ...]
    bounds: tuple[tuple[float, float], ...]
    poles: Array


def curve_nets(curves: Sequence[BRepAdaptor_Curve]) -> list[Net | None]:
    """The curves as nets; None for one of another kind, or of which there are too few alike."""
    return _nets(curves, _curve_kind, _curve_net)


def surface_nets(surfaces: Sequence[BRepAdaptor_Surface]) -> list[Net | None]:
    """The same of surfaces."""
    return _nets(surfaces, _surface_kind, _surface_net)


def _nets(items: Sequence[Item], kind_of: Callable[[Item], object], read: Callable[[Item], Net]) -> list[Net | None]:
    kinds: dict[object, list[int]] = defaultdict(list)
    for n, item in enumerate(items):
        kind = kind_of(item)
        if kind:
            kinds[kind].append(n)
    found: list[Net | None] = [None] * len(items)
    for members in kinds.values():
        if len(members) >= FEWEST:
            for n in members:
                found[n] = read(items[n])
    return found


def _curve_kind(curve: BRepAdaptor_Curve) -> tuple[int | bool, ...] | None:
    kind = curve.GetType()
    bezier = kind == GeomAbs_CurveType.GeomAbs_BezierCurve
    if not (bezier or kind == GeomAbs_CurveType.GeomAbs_BSplineCurve) or not curve.Is3DCurve():
        return None
    usable = curve.NbPoles() <= MOST and not curve.IsPeriodic()
    return (bezier, curve.Degree(), curve.NbPoles(), curve.IsRational()) if usable else None


def _surface_kind(surface: BRepAdaptor_Surface) -> tuple[int | bool, ...] | None:
    kind = surface.GetType()
    bezier = kind == GeomAbs_SurfaceType.GeomAbs_BezierSurface
    if not (bezier or kind == GeomAbs_SurfaceType.GeomAbs_BSplineSurface):
        return None
    counts = surface.NbUPoles(), surface.NbVPoles()
    if counts[0] * counts[1] > MOST or surface.IsUPeriodic() or surface.IsVPeriodic():
        return None
    return (bezier, surface.UDegree(), surface.VDegree(), *counts, surface.IsURational() or surface.IsVRational())


def _curve_net(curve: BRepAdaptor_Curve) -> Net:
    """Its poles where it lies; the adaptor's own copy is moved already."""
    bezier = curve.GetType() == GeomAbs_CurveType.GeomAbs_BezierCurve
    spline, numbers = curve.Bezier() if bezier else curve.BSpline(), range(1, curve.NbPoles() + 1)
    poles = [spline.Pole(i).Coord() for i in numbers]
    weights = [spline.Weight(i) for i in numbers] if curve.IsRational() else None
    knots = _listed(spline.KnotSequence()) if isinstance(spline, Geom_BSplineCurve) else _ends(curve.Degree())
    bounds = (curve.FirstParameter(), curve.LastParameter())
    return Net((curve.Degree(),), (knots,), (bounds,), _weighted(np.array(poles), weights))


def _surface_net(surface: BRepAdaptor_Surface) -> Net:
    bezier = surface.GetType() == GeomAbs_SurfaceType.GeomAbs_BezierSurface
    spline, across, down = surface.Bezier() if bezier else surface.BSpline(), surface.NbUPoles(), surface.NbVPoles()
    numbers = [(i, j) for i in range(1, across + 1) for j in range(1, down + 1)]
    rational = surface.IsURational() or surface.IsVRational()
    poles = [spline.Pole(i, j).Coord() for i, j in numbers]
    weighted = _weighted(np.array(poles), [spline.Weight(i, j) for i, j in numbers] if rational else None)
    degrees = surface.UDegree(), surface.VDegree()
    knots: tuple[Knots, ...] = tuple(_ends(degree) for degree in degrees)
    if isinstance(spline, Geom_BSplineSurface):
        knots = _listed(spline.UKnotSequence()), _listed(spline.VKnotSequence())
    bounds = (
        (surface.FirstUParameter(), surface.LastUParameter()),
        (surface.FirstVParameter(), surface.LastVParameter()),
    )
    return Net(degrees, knots, bounds, weighted.reshape(across, down, -1))


def _weighted(poles: Array, weights: list[float] | None) -> Array:
    if weights is None:
        return poles
    column = np.array(weights)[:, None]
    return np.hstack([poles * column, column])


@cache
def _ends(degree: int) -> Knots:
    return (0.0,) * (degree + 1) + (1.0,) * (degree + 1)


def _listed(values: TColStd_Array1OfReal) -> Knots:
    return tuple(values.Value(i) for i in range(values.Lower(), values.Upper() + 1))


def alike(nets: Sequence[Net | None]) -> Iterator[list[int]]:
    """The numbers of nets with as many poles and of one degree, not too many at once."""
    kinds: dict[object, list[int]] = defaultdict(list)
    for n, net in enumerate(nets):
        if net:
            kinds[net.degrees, net.poles.shape].append(n)
    for members in kinds.values():
        yield from (members[k : k + AT_ONCE] for k in range(0, len(members), AT_ONCE))


def curve_points(nets: Sequence[Net], count: int) -> Array:
    """Points of curves that are alike at equal steps of their parameter: (n, count + 1, 3)."""
    poles = np.stack([net.poles for net in nets])
    return _divided(_shares(nets, 0, steps(nets, 0, count))[0] @ poles)


def steps(nets: Sequence[Net], way: int, count: int) -> Array:
    """A parameter of each net in equal steps, (n, count + 1)."""
    first, last = np.array([net.bounds[way] for net in nets]).T[:, :, None]
    found = first + (last - first) * np.arange(count + 1) / count
    found[:, -1:] = last
    return np.asarray(found)


def surface_points(nets: Sequence[Net], us: Array, vs: Array) -> Array:
    """Points of surfaces that are alike on grids of their parameters (n, a) and (n, b): (n, a, b, 3)."""
    return _divided(_tensor(_shares(nets, 0, us)[0], _shares(nets, 1, vs)[0], np.stack([net.poles for net in nets])))


def surface_slopes(nets: Sequence[Net], us: Array, vs: Array, *, paired: bool = False) -> tuple[Array, Array, Array]:
    """The same points, and there the derivatives by the first and by the second parameter.

    ``paired``: not on grids but at places of so many parameters each, (n, a) and (n, a): three arrays (n, a, 3).
    """
    (across, along), (down, deeper) = _shares(nets, 0, us), _shares(nets, 1, vs)
    poles, sums = np.stack([net.poles for net in nets]), _paired if paired else _tensor
    at = sums(across, down, poles)
    slopes = sums(along, down, poles), sums(across, deeper, poles)
    if at.shape[-1] == 3:
        return at, *slopes
    places, by = at[..., :3] / at[..., 3:], [(s[..., :3], s[..., 3:]) for s in slopes]
    one, other = ((top - bottom * places) / at[..., 3:] for top, bottom in by)
    return places, one, other


def _tensor(across: Array, down: Array, poles: Array) -> Array:
    n, k, m, d = poles.shape
    rows = (across @ poles.reshape(n, k, m * d)).reshape(n, -1, m, d)
    return np.asarray(down[:, None] @ rows)


def _paired(across: Array, down: Array, poles: Array) -> Array:
    n, k, m, d = poles.shape
    rows = (across @ poles.reshape(n, k, m * d)).reshape(n, -1, m, d)
    return np.asarray((down[:, :, None] @ rows)[:, :, 0])


def _divided(found: Array) -> Array:
    return found if found.shape[-1] == 3 else np.asarray(found[..., :3] / found[..., 3:])


def _shares(nets: Sequence[Net], way: int, at: Array) -> tuple[Array, Array]:
    """What each pole counts at parameters (n, k), and by how much that grows with them: (n, k, poles) each."""
    degree, own = nets[0].degrees[way], [net.knots[way] for net in nets]
    knots = np.array(own[:1] if len(set(own)) == 1 else own)
    span = _span(knots, degree, np.array([net.bounds[way] for net in nets]), at)
    rows, count = np.arange(len(knots))[:, None], knots.shape[1] - degree - 1
    near = [knots[rows, span + k] for k in range(1 - degree, degree + 1)]
    some: list[Array] = [np.ones(at.shape)]
    for level in range(1, degree + 1):
        less, some = some, _raised(some, near, at, degree, level)
    lower = [degree * share / (near[degree + k] - near[k]) for k, share in enumerate(less)]
    grown = [-lower[0], *(a - b for a, b in pairwise(lower)), lower[-1]]
    columns = span[..., None] + np.arange(-degree, 1)
    return _spread(some, columns, count), _spread(grown, columns, count)


def _spread(some: Sequence[Array], columns: NDArray[np.intp], count: int) -> Array:
    """Shares of the poles of these numbers, among as many as there are."""
    found = np.zeros((*columns.shape[:2], count))
    np.put_along_axis(found, columns, np.stack(some, axis=-1), axis=-1)
    return found


def _raised(some: list[Array], near: list[Array], at: Array, degree: int, level: int) -> list[Array]:
    """The shares of one degree more. ``near``: knots about each parameter, the span's own first one in the middle."""
    found = [np.zeros(at.shape) for _ in range(level + 1)]
    for k, share in enumerate(some):
        low, high = near[degree - level + k], near[degree + k]
        part = share / (high - low)
        found[k] += (high - at) * part
        found[k + 1] += (at - low) * part
    return found


def _span(knots: Array, degree: int, bounds: Array, at: Array) -> NDArray[np.intp]:
    """For each parameter (n, k) the number of the last knot before it, within those between the bounds (n, 2)."""
    start, end = knots[:, degree], knots[:, -degree - 1]
    first = np.clip(bounds[:, 0] + ON_KNOT, start, end - ON_KNOT)
    last = np.clip(bounds[:, 1] - ON_KNOT, start + ON_KNOT, end)
    low, high = (knots <= first[:, None]).sum(axis=1), (knots < last[:, None]).sum(axis=1)
    inside = (knots[:, None, :] <= at[..., None]).sum(axis=2)
    return np.asarray(np.clip(inside, low[:, None], np.maximum(low, high)[:, None]) - 1)
