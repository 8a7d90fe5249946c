"""What a check starts from, read and matched before any geometry is cut: part, plan, files, blank."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from schemas.base import Box
from schemas.matching import check_tools_match
from schemas.plan import Allowance, SetupPlan, read_plan, step_names
from schemas.problem import Problem
from schemas.tolerances import COINCIDENT, LENGTH, VOLUME_NOTHING
from schemas.units import units
from schemas.workholding import Vise
from worker.aligned import aligned
from worker.kernel import measure, primitives, stepio
from worker.kernel.shape import Body, faces
from worker.part import Part
from worker.recognise.survey import survey
from worker.residual import missing


@dataclass(frozen=True)
class Inputs:
    """The plan in mm, the part with its features, the blank, and the bodies of the named files (part's frame)."""

    plan: SetupPlan
    part: Part
    rawpiece: Body
    files: Mapping[str, Body]
    digests: Mapping[str, str]
    notes: tuple[str, ...]


def read_part(data: bytes) -> tuple[Part, stepio.StepFile]:
    """The part with its features, and the file as it was read; raises Problem for a file that is no sound part.

    The part's solid is the file's without the grooves of modelled threads.
    """
    file = stepio.read_part(data)
    found = survey(file.body, dict(file.names))
    part = Part(
        body=found.body,
        features=found.features,
        face_count=len(faces(found.body)),
        box=measure.bounding_box(found.body),
        volume=measure.volume(found.body),
        sha256=hashlib.sha256(data).hexdigest(),
    )
    return part, replace(file, notes=(*file.notes, *found.notes))


ReadPart = Callable[[bytes], tuple[Part, stepio.StepFile]]


def read_inputs(part_data: bytes, plan_data: bytes, files: Mapping[str, bytes], read: ReadPart = read_part) -> Inputs:
    """Everything read, matched and refused where need be. ``read`` reads the part. Raises Problem."""
    plan = read_plan(plan_data)
    check_tools_match(plan)
    _match_files(plan, files)
    bodies = {name: stepio.read_bodies(data, name) for name, data in sorted(files.items())}
    part, part_file = read(part_data)
    plan = aligned(plan, part)
    placed = {name: file.body for name, file in bodies.items()}
    rawpiece = make_rawpiece(plan, part, placed)
    _refuse_wrong_unit(part_file, rawpiece)
    _refuse_short_blank(plan, part, rawpiece)
    digests = {"part": part.sha256, "plan": hashlib.sha256(plan_data).hexdigest()}
    digests |= {f"file {name}": hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())}
    remarks = part_file.notes + tuple(f"{name}: {note}" for name, file in bodies.items() for note in file.notes)
    remarks += tuple(_idle_parallels(plan))
    return Inputs(plan, part, rawpiece, placed, digests, remarks)


def _idle_parallels(plan: SetupPlan) -> Iterator[str]:
    """Parallels beside soft jaws, but for such as are as high as the nest's floor stands: they carry nothing."""
    for setup in plan.setups:
        held = setup.workholding
        if not isinstance(held, Vise) or held.nest_depth is None or held.parallel_height == 0:
            continue
        if abs(held.jaw_height - held.nest_depth - held.parallel_height) > LENGTH:
            yield (
                f"{setup.id}: 'parallel_height' says nothing beside soft jaws: the stock stands on their nest's floor, "
                "'nest_depth' below their top."
            )


def _match_files(plan: SetupPlan, files: Mapping[str, bytes]) -> None:
    wanted = step_names(plan)
    for name, pointer in wanted.items():
        if name not in files:
            raise Problem(
                "plan.file-missing",
                "A file is missing",
                f"The plan needs a STEP file named '{name}'.",
                pointer=pointer,
                remedy="Send it along under that name.",
            )
    for name in sorted(set(files) - set(wanted)):
        raise Problem(
            "plan.file-unused",
            "A file is not used",
            f"The plan names no file '{name}'.",
            pointer=name,
            remedy="Leave it out or correct the name in the plan.",
        )


def make_rawpiece(plan: SetupPlan, part: Part, files: Mapping[str, Body]) -> Body:
    """The blank of the plan, in the part's frame."""
    raw = plan.workpiece.rawpiece
    if raw.step is not None:
        return files[raw.step]
    if raw.cylinder is not None:
        return primitives.cylinder(raw.cylinder.from_, raw.cylinder.to, raw.cylinder.diameter)
    if isinstance(raw.box, Allowance):
        sides = raw.box.allowance
        low = tuple(c - side[0] for c, side in zip(part.box.min, sides, strict=True))
        high = tuple(c + side[1] for c, side in zip(part.box.max, sides, strict=True))
        return primitives.box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
    assert raw.box is not None  # the model admits exactly one shape
    return primitives.box(raw.box.min, raw.box.max)


def _refuse_wrong_unit(part_file: stepio.StepFile, rawpiece: Body) -> None:
    """A part that suits its blank only 25.4 times larger or smaller was exported in the wrong unit."""
    problem = stepio.suspect_unit(part_file, measure.bounding_box(rawpiece).size)
    if problem is not None:
        raise problem


def _refuse_short_blank(plan: SetupPlan, part: Part, rawpiece: Body) -> None:
    if isinstance(plan.workpiece.rawpiece.box, Box) and _holds(measure.bounding_box(rawpiece), part.box):
        return
    lacking = missing(part, rawpiece)
    volume = measure.volume(lacking)
    if volume > max(VOLUME_NOTHING, 1e-9 * part.volume):
        out = units(plan.units)
        box = measure.bounding_box(lacking)
        corner = ", ".join(out.number(c) for c in box.min) + " to " + ", ".join(out.number(c) for c in box.max)
        raise Problem(
            "plan.rawpiece-too-small",
            "The blank does not hold the part",
            f"The part reaches out of its raw piece between {corner} {out.symbol}.",
            pointer="/workpiece/rawpiece",
            remedy="Make the raw piece larger, or mend its place or its unit.",
        )


def _holds(outer: Box, inner: Box) -> bool:
    low = all(o <= i + COINCIDENT for o, i in zip(outer.min, inner.min, strict=True))
    return low and all(i <= o + COINCIDENT for o, i in zip(outer.max, inner.max, strict=True))
