"""Bodies of another size."""

from __future__ import annotations

from OCP.gp import gp_Trsf

from worker.kernel.shape import Body, transformed


def scale_body(body: Body, factor: float) -> Body:
    """The body scaled about the origin of the part's frame."""
    scaling = gp_Trsf()
    scaling.SetScaleFactor(factor)
    return transformed(body, scaling)
