"""Where a stock rests on a body of any form, and the outline of what stands between two jaws."""

from __future__ import annotations

from schemas.base import Vec3, scale
from schemas.tolerances import VOLUME_NOTHING
from worker.kernel import boolean, measure
from worker.kernel.contact import shifted
from worker.kernel.mesh import triangulate
from worker.kernel.shape import Body, is_empty


def rests_on(stock: Body, body: Body, up: Vec3, lift: float) -> tuple[Vec3, ...]:
    """Points that span where the stock would hinder the body from being lifted by ``lift`` mm along ``up``.

    Flats, flanks of a vee, edges and points alike; nothing where the body is beside or above the stock.
    """
    if measure.distance(stock, body).distance > lift:
        return ()
    raised = Body(shifted(body.wrapped, scale(up, lift)))
    return corners_of(boolean.common(stock, [raised], merge=False))


def corners_of(body: Body) -> tuple[Vec3, ...]:
    """Points that span a body: the corners of its triangles; none of a body without volume."""
    if is_empty(body) or measure.volume(body) <= VOLUME_NOTHING:
        return ()
    points, _, _ = triangulate(body)
    return tuple((float(x), float(y), float(z)) for x, y, z in points)
