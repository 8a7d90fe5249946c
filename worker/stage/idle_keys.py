"""Values of a step that change nothing where they stand: said in its notes, since nothing is ignored silently."""

from __future__ import annotations

from collections.abc import Iterator

from schemas.base import Vec3, dot
from schemas.feature import HOLES, Feature
from schemas.matching import on_axis
from schemas.tool import NEEDS_ANGLE
from worker.part import RECESSES, Part
from worker.stage.model import ResolvedStep

EDGES = frozenset({"chamfer", "edge_round"})
FOLLOWED = EDGES | {"region"}
ASIDE = 0.5
"""Cosine below which a face looks to the side of a direction."""


def idle_keys(part: Part, job: ResolvedStep, axis: Vec3) -> tuple[str, ...]:
    """Sentences on a step's values that do nothing; ``axis`` is the unit vector towards the spindle."""
    return (*_beside_a_depth(job), *_nothing_below(part, job, axis), *_no_passes(job))


def _beside_a_depth(job: ResolvedStep) -> Iterator[str]:
    """A stated depth stands instead of the feature's own; faces that are followed keep their allowance."""
    step = job.step
    depth = next((k for k in ("bottom_z", "cutting_depth") if getattr(step, k) is not None), None)
    if depth is None:
        return
    if step.overcut_length:
        yield f"'{depth}' states the depth: 'overcut_length' adds nothing to it."
    follows = step.operation == "freeform_operation" or any(f.class_ in FOLLOWED for f in job.features)
    if step.allowance_bottom and not follows and job.tool.type not in NEEDS_ANGLE:
        yield f"'{depth}' states the depth: 'allowance_bottom' adds nothing to it."


def _nothing_below(part: Part, job: ResolvedStep, axis: Vec3) -> Iterator[str]:
    step = job.step
    if not step.overcut_length or step.bottom_z is not None or step.cutting_depth is not None:
        return
    pointed = job.tool.type in NEEDS_ANGLE or step.operation in ("center_drilling", "back_boring")
    if pointed or not any(_opens_below(part, f, axis) for f in job.features):
        yield "'overcut_length' adds nothing: no feature of the step is open below for this tool."


def _opens_below(part: Part, feature: Feature, axis: Vec3) -> bool:
    """Whether a tool may come out below it; of what lies across that is not told, so it counts as open."""
    if feature.class_ in HOLES or feature.class_ in RECESSES:
        own = [part.feature(id) for id in feature.elements] or [feature]
        across = abs(dot(feature.placement.z, axis)) < ASIDE
        return across or any(one.bottom in ("through", None) for one in own)
    if feature.class_ == "planar_face" or feature.class_ in EDGES:
        return abs(dot(feature.placement.z, axis)) < ASIDE
    return feature.class_ == "profile_feature"


def _no_passes(job: ResolvedStep) -> Iterator[str]:
    """A tool on a hole's axis cuts its whole width at once; a boring bar may take it in passes."""
    step, said = job.step, job.step.technology
    if not on_axis(step, job.tool):
        return
    if step.operation == "tapping" and said.feed_per_tooth is not None:
        yield "'feed_per_tooth' says nothing to tapping: a tap feeds its pitch a turn."
    if said.axial_cutting_depth is not None:
        yield f"'axial_cutting_depth' says nothing to {step.operation}: no pecking is reckoned with."
    if said.radial_cutting_depth is not None and step.operation != "boring":
        yield f"'radial_cutting_depth' says nothing to {step.operation}: the tool cuts as wide as it is."
