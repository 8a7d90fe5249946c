"""Manufacturing features (ISO 14649-10) of a part, from its faces and the edges between them."""

from __future__ import annotations

from schemas.feature import Feature
from worker.kernel.graph import face_graph
from worker.kernel.shape import Body
from worker.recognise.assemble import features_of
from worker.recognise.patches import part_shape


def recognise(body: Body) -> tuple[Feature, ...]:
    """All features of a part: ids from geometry, lengths in mm, face indices in kernel order.

    The same part gives the same features whatever the order, splitting or encoding of its faces.
    """
    return features_of(part_shape(face_graph(body)))
