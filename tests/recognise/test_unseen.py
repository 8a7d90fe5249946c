"""Parts nobody has looked at: drawn by dice, their faces labelled by the cutters that made them."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from pathlib import Path

import pytest

from bench.crossed import altered
from bench.generate import Kind, milled, written
from bench.labels import LABELS, label_faces
from bench.milled_shapes import apart
from bench.recognition import face_labels
from bench.rewrites import Rewrite, at_any_angle, in_pieces
from schemas.base import dot
from schemas.feature import Feature
from tests.support.rewritten import same_when_rewritten
from worker.kernel.boolean import common
from worker.kernel.graph import face_graph
from worker.kernel.measure import volume
from worker.kernel.shape import Body, faces
from worker.kernel.stepio import read_part
from worker.recognise.assemble import features_of
from worker.recognise.patches import PartShape, part_shape

PARTS: list[tuple[Kind, int]] = [("alike", seed) for seed in range(5000, 5024)]
PARTS += [("wide", seed) for seed in range(5000, 5012)]


def recognised(body: Body) -> tuple[tuple[Feature, ...], PartShape]:
    shape = part_shape(face_graph(body))
    return features_of(shape), shape


def called(labels: Iterable[int]) -> list[str]:
    return [LABELS[label] for label in labels]


@pytest.mark.parametrize(("kind", "seed"), PARTS)
def test_each_face_belongs_to_the_feature_that_cut_it(kind: Kind, seed: int) -> None:
    part = milled(seed, kind)
    features, shape = recognised(part.body)
    assert called(label_faces(features, shape)) == called(part.labels)


REWRITTEN: list[tuple[Kind, int, int]] = [(kind, seed, seed) for kind, seed in PARTS[::6]]
REWRITTEN += [("mixed", 33, 78), ("mixed", 47, 93), ("mixed", 90, 141), ("mixed", 131, 38)]
"""Of those that overlap at random: steps that a slot cuts apart, and a slanted face whose sides are drawn in pieces."""


@pytest.mark.parametrize(("kind", "seed", "turn"), REWRITTEN)
def test_the_same_features_come_out_of_the_part_written_differently(kind: Kind, seed: int, turn: int) -> None:
    same_when_rewritten(milled(seed, kind).body, turn)


@pytest.mark.parametrize(
    ("seed", "rewrite", "dice"),
    [
        (7120, at_any_angle, 121),  # two walls of one length
        (7120, in_pieces, 121),  # what breaks an edge in pieces
        (7148, in_pieces, 149),  # an edge that is open all round
        (9301, at_any_angle, 102),  # an edge seen from its side
    ],
)
def test_sizes_and_open_sides_stay_as_they_are(seed: int, rewrite: Rewrite, dice: int) -> None:
    body = milled(seed, "mixed").body
    assert altered(recognised(body)[0], recognised(rewrite(body, dice))[0]) == []


@pytest.mark.parametrize(("kind", "seed"), PARTS[::9])
def test_a_made_part_is_the_block_without_its_cutters(kind: Kind, seed: int) -> None:
    part = milled(seed, kind)
    assert {c for c in part.cutter if c >= 0} == set(range(len(part.cutters)))
    assert len(part.labels) == len(faces(part.body)) == len(part.cutter)
    graph = face_graph(part.body)
    across = [e for e in graph.edges if part.cutter[e.faces[0]] != part.cutter[e.faces[1]]]
    assert all(e.convexity in ("convex", "smooth") for e in across)  # where cutters meet, metal stands out


@pytest.mark.parametrize("seed", range(4))
def test_cutters_are_told_apart_as_their_solids_are(seed: int) -> None:
    for a, b in combinations(milled(seed, "mixed").cutters, 2):
        assert apart(a, b, 0.0) == (volume(common(a.taken(), [b.taken()])) < 1e-9)


def test_a_written_part_keeps_the_label_of_each_face(tmp_path: Path) -> None:
    part = milled(5000, "alike")
    written(part, tmp_path)
    file = tmp_path / f"{part.name}.step"
    body = read_part(file.read_bytes()).body
    assert places(body, face_labels(file)) == places(part.body, part.labels)


def places(body: Body, labels: Iterable[int]) -> set[tuple[object, ...]]:
    facts = face_graph(body).faces
    return {
        (round(f.area, 4), *(round(c, 4) for c in (*f.surface.axis, dot(f.surface.axis, f.point))), label)
        for f, label in zip(facts, labels, strict=True)
    }
