"""A setup, made once: frame, workholding, sweeps of all steps, one cut, what stays and what comes free."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from schemas.base import Frame
from schemas.plan import Setup
from schemas.tolerances import VOLUME_NOTHING
from worker.kernel import boolean, measure
from worker.kernel.errors import BROKEN, KernelError, said
from worker.kernel.meshes import shared_volume
from worker.kernel.shape import EMPTY, Body, compound, is_empty, solids
from worker.kernel.together import sharing_metal
from worker.part import Part
from worker.stage.carry import Carried, cut_all, held_and_loose, is_held
from worker.stage.frame import setup_frame
from worker.stage.holding import place_holding
from worker.stage.idle_keys import idle_keys
from worker.stage.model import Balance, Cut, Holding, ResolvedStep, Stage
from worker.stage.removal import Scene, Sweep, sweep_step
from worker.stage.removal.scene import nothing, scene_of
from worker.stage.standing import EXACT, Standing

CHORD = 0.05
"""Chords (mm) of the meshes that tell which piece is the part: half its metal is far from any doubt."""


def make_stage(
    part: Part,
    setup: Setup,
    steps: Sequence[ResolvedStep],
    as_is: Body,
    files: Mapping[str, Body],
    standing: Standing = EXACT,
) -> Stage:
    """One setup, cut: from the as-is stock (part's frame) to what its workholding still holds.

    ``files`` are the STEP bodies sent along, by name; ``standing`` is what the as-is solid is worth. A step that the
    kernel cannot cut is in ``Stage.failures``; raises KernelError when it cannot even place stock and workholding.
    """
    frame = setup_frame(setup, part.body, as_is)
    holding = place_holding(setup.workholding, frame, as_is, files, bool(standing.facets))
    scene = scene_of(part, frame, holding, as_is)
    sweeps = [_sweep(scene, job) for job in steps]
    carried = cut_all(as_is, sweeps, standing, scene.metal)
    deep = sharing_metal(part.body, [sweep.gouging for sweep in sweeps], VOLUME_NOTHING)
    sweeps = [sweep if i in deep else replace(sweep, gouging=()) for i, sweep in enumerate(sweeps)]
    cuts = tuple(_cut(scene, holding, steps[i], sweeps[i], carried, i) for i in range(len(steps)))
    return _stage(part, setup, frame, as_is, holding, cuts, carried)


def _sweep(scene: Scene, job: ResolvedStep) -> Sweep:
    try:
        return sweep_step(scene, job)
    except BROKEN as error:  # one step that cannot be swept is told; the others are judged
        return replace(nothing(scene.metal.max[2]), fault=said(error))


def _cut(scene: Scene, holding: Holding, job: ResolvedStep, sweep: Sweep, carried: Carried, i: int) -> Cut:
    removal, volume = carried.removals[i], carried.volumes[i]
    swept = compound(sweep.bodies)
    gouge, gouge_fault = _overlap(scene.part.body, sweep.gouging, sweep.pardoned)
    near_holding = scene.meets_holding(sweep.tip_z, sweep.plan)
    hit, hit_fault = _overlap(holding.body, sweep.bodies) if near_holding else (None, "")
    entry = measure.bounding_box(removal, scene.frame).max[2] if not is_empty(removal) else sweep.tip_z
    return Cut(
        index=job.index,
        step=job.step,
        tool=job.tool,
        features=job.features,
        swept=swept,
        removal=removal,
        removal_volume=volume,
        gouge=gouge,
        in_workholding=hit,
        reached=tuple(f.id for f in job.features) if volume > VOLUME_NOTHING else (),
        tip_z=sweep.tip_z,
        full_diameter_z=sweep.full_diameter_z,
        entry_z=entry,
        bottom_z_nominal=sweep.nominal_z,
        plunges=sweep.plunges,
        spared=sweep.spared,
        notes=(*sweep.notes, *idle_keys(scene.part, job, scene.frame.z)),
        swept_known=not sweep.fault,
        gouge_fault=gouge_fault,
        workholding_fault=hit_fault,
        stands=sweep.stands,
        tips=sweep.tips,
        ways=sweep.ways,
        kept_off=sweep.kept_off,
        plan=sweep.plan,
        rides=sweep.rides,
        followed=sweep.followed,
    )


def _overlap(body: Body, tools: Sequence[Body], pardoned: Sequence[Body] = ()) -> tuple[Body | None, str]:
    """What the tools take of the body, less where they may, None when that is no metal; and why it is not known."""
    present = [tool for tool in tools if not is_empty(tool)]
    if not present or is_empty(body):
        return None, ""
    try:
        found = boolean.common(body, present, merge=False)
        if pardoned:
            found = _less(found, pardoned)
    except KernelError as error:
        return None, str(error)
    return (None if measure.volume(found) <= VOLUME_NOTHING else found), ""


def _part_among(pieces: Sequence[Body], part: Part) -> Body | None:
    """The piece that is the part, where one of them is: what frames it may stay in the jaws."""
    return next((piece for piece in pieces if _is_the_part(piece, part)), None)


def _large(pieces: Sequence[Body], part: Part) -> list[Body]:
    """Those that have room for most of the part's metal."""
    return [piece for piece in pieces if measure.volume(piece) > part.volume / 2]


def _is_the_part(piece: Body, part: Part) -> bool:
    """True for a solid that holds most of the part's metal; by meshes, because it has the part's own faces."""
    try:
        return shared_volume(piece, part.body, CHORD) > part.volume / 2
    except KernelError:
        return False


def _less(found: Body, pardoned: Sequence[Body]) -> Body:
    """The metal of an overlap that lies beside what is pardoned; films without volume (where a tool and a wall touch
    along a line) are no metal, and no boolean takes them."""
    metal = [solid for solid in solids(found) if measure.volume(solid) > VOLUME_NOTHING]
    return boolean.cut(compound(metal), pardoned, merge=False) if metal else EMPTY


def _stage(
    part: Part, setup: Setup, frame: Frame, as_is: Body, holding: Holding, cuts: tuple[Cut, ...], carried: Carried
) -> Stage:
    kept, loose = held_and_loose(carried.rest, holding)
    large = _large(loose, part)
    released, free = False, None
    if len(large) != 1 or not is_empty(kept):  # else it is the part or, with nothing else so large, stands for it
        free = _part_among(large, part)
    if free is None and is_empty(kept) and loose:
        free = max(loose, key=measure.volume)
    if free is not None:
        kept = free if is_empty(kept) else compound([kept, free])
        loose, released = tuple(s for s in loose if s is not free), is_held(as_is, holding)
    balance = Balance(
        as_is=measure.volume(as_is),
        removed=sum(cut.removal_volume for cut in cuts),
        loose=sum(measure.volume(piece) for piece in loose),
        to_be=measure.volume(kept),
    )
    return Stage(
        setup, frame, as_is, holding, cuts, kept, loose, released, balance,
        carried.notes, carried.standings, carried.failures, dict(carried.stocks),
    )  # fmt: skip
