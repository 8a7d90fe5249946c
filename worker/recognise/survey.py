"""All that recognition says of a part: the plain solid that is cut and measured, its features, and remarks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from schemas.base import add, dot
from schemas.feature import Feature
from schemas.thread_forms import is_tapped
from worker.kernel.defeature import with_whole_skin, without_faces
from worker.kernel.errors import KernelError
from worker.kernel.graph import FaceGraph, face_graph
from worker.kernel.refill import refilled
from worker.kernel.shape import Body
from worker.recognise.assemble import features_of
from worker.recognise.carriers import same_carrier
from worker.recognise.threads import Screw, screws_of, threaded


@dataclass(frozen=True)
class Survey:
    """``body`` is the part without the grooves of modelled threads; faces of ``features`` are indices in it."""

    body: Body
    features: tuple[Feature, ...]
    notes: tuple[str, ...]


def survey(body: Body, names: Mapping[int, str] | None = None) -> Survey:
    """Recognise a part. ``names``: what the file calls its faces (indices in kernel order), where it does."""
    graph = face_graph(body)
    notes = _loose(graph) + _doubtful(graph)
    screws = screws_of(graph, names or {})
    cut = tuple(s for s in screws if s.cut)
    plain = _plain(body, graph, cut) if cut else None
    if plain is not None:
        body, graph = plain
    if cut:
        notes.append(_threads_told(cut) if plain else _STAY)
    return Survey(body, features_of(threaded(graph, screws, plain is None)), tuple(notes))


WHOLE = 4
"""Faces of one skin without strips: two halves on the thread's length and two beside it."""
_STAY = "modelled threads could not be read as plain bores and shanks: cutting along their flanks may fail"


def _plain(body: Body, graph: FaceGraph, screws: tuple[Screw, ...]) -> tuple[Body, FaceGraph] | None:
    """The part without the flanks, where the kernel closes it, none of them is left and all beside them is."""
    cut = {face for screw in screws for face in screw.cut}
    helical = sum(1 for face in graph.faces if face.helix and face.index not in cut)
    for way in (_by_kind, _grown):
        try:
            plain = way(body, screws)
        except KernelError:
            continue
        after = face_graph(plain)
        if sum(1 for face in after.faces if face.helix) <= helical and _whole(after, screws):
            return plain, after
    return None


def _by_kind(body: Body, screws: Sequence[Screw]) -> Body:
    """Threads that something crosses filled up, all others by growing the faces beside them."""
    filled = [s for s in screws if any(groove.slow for groove in s.grooves)]
    plain = _grown(body, [s for s in screws if s not in filled])
    for screw in filled:
        for groove in screw.grooves:
            plain = refilled(plain, groove.skin, groove.walls, groove.ridges)
    return plain


def _grown(body: Body, screws: Sequence[Screw]) -> Body:
    """The faces beside the flanks grown together: quick where they are floors, seats and chamfers."""
    if not screws:
        return body
    plain = without_faces(body, {face for screw in screws for face in screw.cut})
    for screw in screws:
        strips = sum(1 for face in face_graph(plain).faces if same_carrier(face.surface, screw.carrier))
        if strips > WHOLE:
            plain = _unwound(plain, screw)
    return plain


def _whole(graph: FaceGraph, screws: Sequence[Screw]) -> bool:
    """What crosses the threads is still there."""
    walls = [wall for screw in screws for groove in screw.grooves for wall in groove.across]
    return all(any(same_carrier(face.surface, wall) for face in graph.faces) for wall in walls)


def _unwound(plain: Body, screw: Screw) -> Body:
    """The strips that a thread's crest was, as one round face: from the side each is a border of hundreds of arcs."""
    carrier = screw.carrier
    if carrier.kind != "cylinder":
        return plain
    foot = dot(carrier.origin, carrier.axis)
    ends = [add(carrier.origin, carrier.axis, at - foot) for at in (screw.low, screw.high)]
    return with_whole_skin(plain, ends[0], ends[1], carrier.radius, carrier.hollow)


def _threads_told(screws: tuple[Screw, ...]) -> str:
    names = ", ".join(sorted({f"{screw.name} along {screw.high - screw.low:.4g} mm" for screw in screws}))
    rest = "a tap makes the rest" if all(is_tapped(s.name) for s in screws) else "no step of a plan makes all the rest"
    return f"modelled threads ({names}) count as plain bores of minor and shanks of major diameter; {rest}"


def _loose(graph: FaceGraph) -> list[str]:
    """A remark on edges at which metal touches metal in a line, or a skin ends inside it."""
    if not graph.loose:
        return []
    count = "1 edge does" if len(graph.loose) == 1 else f"{len(graph.loose)} edges do"
    place = ", ".join(f"{c:.6g}" for c in min(graph.loose))
    return [f"{count} not join exactly two faces, the first at [{place}] mm: what stands there may be told wrong"]


def _doubtful(graph: FaceGraph) -> list[str]:
    """A remark on curved faces that no triangulator fills: what they hide, and how far they reach, is uncertain."""
    if not graph.doubtful:
        return []
    count = "1 curved face is" if len(graph.doubtful) == 1 else f"{len(graph.doubtful)} curved faces are"
    place = ", ".join(f"{c:.6g}" for c in min(graph.faces[face].point for face in graph.doubtful))
    return [f"{count} triangulated in part only, the first at [{place}] mm: what stands there may be told wrong"]
