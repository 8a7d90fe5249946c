"""Manufacturing features (ISO 14649-10) of a part, from its faces and the edges between them."""

from __future__ import annotations

from collections.abc import Mapping

from schemas.feature import Feature
from worker.kernel.graph import face_graph
from worker.kernel.shape import Body
from worker.recognise.assemble import features_of
from worker.recognise.threads import screws_of, threaded


def recognise(body: Body, names: Mapping[int, str] | None = None) -> tuple[Feature, ...]:
    """All features of a part: ids from geometry, lengths in mm, face indices in kernel order.

    The same part gives the same features whatever the order, splitting or encoding of its faces. ``names``: what the
    file calls its faces, where it does; the name of a thread on a round face makes it a threaded one.
    :func:`worker.recognise.survey.survey` says the same of a part without the grooves of its threads.
    """
    graph = face_graph(body)
    return features_of(threaded(graph, screws_of(graph, names or {})))
